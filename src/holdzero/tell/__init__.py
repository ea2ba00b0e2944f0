"""Tell: each result turned into blocks once, station by station; terminal, page and paper only set them."""
