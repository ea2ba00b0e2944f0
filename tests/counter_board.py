"""A counter board on a pseudo-terminal, behind a name that stays when it is plugged in again."""

import os
from pathlib import Path


class Board:
    """What a board does to a port: plugged in, sending, pulled out."""

    def __init__(self, folder: Path) -> None:
        self.port = folder / "board"
        self.ends = None

    def plug(self):
        import pty
        import tty

        ours, theirs = pty.openpty()
        tty.setraw(ours)
        tty.setraw(theirs)
        self.port.unlink(missing_ok=True)
        self.port.symlink_to(os.ttyname(theirs))
        self.ends = ours, theirs

    def send(self, data):
        os.write(self.ends[0], data)

    def pull(self):
        if self.ends:
            self.port.unlink()
            for end in self.ends:
                os.close(end)
            self.ends = None
