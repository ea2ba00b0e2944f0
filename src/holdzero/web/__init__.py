"""Web: the book as pages in a browser, on this computer only."""
