"""Markup: words and attributes as XML writes them.

The standard library has both in `xml.sax.saxutils`, which takes 20 ms to load: it brings HTTP and TLS along.
"""


def words_in_xml(text: str) -> str:
    """Return a text as it stands between two tags."""
    return text.replace("&", "&amp;").replace(">", "&gt;").replace("<", "&lt;")


def attribute(text: str) -> str:
    """Return a value with its quotes, as it stands behind the name of an attribute.

    Examples
    --------
    >>> print(attribute('5" or 127 mm & more'))
    '5" or 127 mm &amp; more'
    """
    value = words_in_xml(text).replace("\n", "&#10;").replace("\r", "&#13;").replace("\t", "&#9;")
    if '"' not in value:
        return f'"{value}"'
    return f"'{value}'" if "'" not in value else f'"{value.replace(chr(34), "&quot;")}"'
