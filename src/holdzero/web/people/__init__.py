"""People: a book open to a network, over TLS, for those who sign in."""
