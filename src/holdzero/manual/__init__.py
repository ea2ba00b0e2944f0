"""The manual: pages that explain, written in docs/ and set as HTML when they are opened, without a network."""

from holdzero.manual.contents import CHAPTERS, Topic, topic_named, topics
from holdzero.manual.folder import written
from holdzero.manual.sheet import file_of, names

__all__ = ["CHAPTERS", "Topic", "file_of", "names", "topic_named", "topics", "written"]
