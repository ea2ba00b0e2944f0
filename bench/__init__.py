"""Speed, as ratios in one run: ours against a reference measured in the same minute, or against a stated limit."""
