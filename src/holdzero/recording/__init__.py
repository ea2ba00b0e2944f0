"""Recording: the capture of a logic analyser or counter board, from its file."""

from holdzero.recording.channels import ChannelsSeen, channels_of
from holdzero.recording.read import digest, read_recording
from holdzero.recording.source import Progress

__all__ = ["ChannelsSeen", "Progress", "channels_of", "digest", "read_recording"]
