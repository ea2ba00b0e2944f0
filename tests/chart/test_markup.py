"""Markup against the standard library's own, which is what it stands in for."""

from xml.sax.saxutils import escape, quoteattr

import pytest

from holdzero.chart.markup import attribute, words_in_xml

TEXTS = ["plain", "5 < 6 & 7 > 2", "5\" and '6'", '5"', "it's", "two\nlines\tand\rmore", ""]


@pytest.mark.parametrize("text", TEXTS)
def test_as_the_standard_library_writes_it(text: str):
    assert words_in_xml(text) == escape(text)
    assert attribute(text) == quoteattr(text)
