"""Place: is the book on a drive of this computer, or on one of another?

A network drive can confirm a write that is not on its disk, and programs on two computers do not see
each other's locks there. The book still works on one, a little slower, for one computer at a time.
"""

import os
import sys
from functools import cache
from pathlib import Path

from holdzero.caution import Caution

_REMOTE = frozenset(
    (
        "nfs",
        "nfs4",
        "cifs",
        "smb3",
        "smbfs",
        "afpfs",
        "webdav",
        "9p",
        "afs",
        "ceph",
        "glusterfs",
        "ncpfs",
        "vboxsf",
    )
)  # names of file systems as the system lists them
_REMOTE_FUSE = ("fuse.sshfs", "fuse.rclone", "fuse.davfs", "fuse.gvfsd", "fuse.glusterfs", "fuse.smb")
_DRIVE_REMOTE = 4  # Windows, GetDriveTypeW


def cautions(path: Path) -> tuple[Caution, ...]:
    """Return what is to be known about the place a book is in."""
    if not network_drive(path):
        return ()
    text = (
        "This book is on a network drive. Open it on one computer at a time; for the trial itself a copy on "
        "this computer is safer: what such a drive confirms may not be on its disk yet."
    )
    return (Caution("network-drive", text, source="SQLite documentation, 'SQLite Over a Network'"),)


def network_drive(path: Path) -> bool:
    """Tell whether a file is on a drive of another computer; no where it cannot be told."""
    return _network_drive(os.path.realpath(path.parent))


@cache
def _network_drive(folder: str) -> bool:
    if sys.platform == "win32":
        import ctypes

        drive = os.path.splitdrive(folder)[0]
        return drive.startswith("\\\\") or ctypes.windll.kernel32.GetDriveTypeW(drive + "\\") == _DRIVE_REMOTE
    if sys.platform == "darwin":
        import subprocess

        listed = subprocess.run(["/sbin/mount"], capture_output=True, text=True, check=False).stdout
        return remote(folder, macos_mounts(listed))
    try:
        listed = Path("/proc/self/mountinfo").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return False
    return remote(folder, linux_mounts(listed))


def remote(folder: str, mounts: dict[str, str]) -> bool:
    """Tell whether the innermost mount that holds a folder is of a remote kind.

    >>> remote("/mnt/shop/books", {"/": "ext4", "/mnt/shop": "cifs"}), remote("/mnt/shop2", {"/": "ext4"})
    (True, False)
    """
    holding = [place for place in mounts if folder == place or folder.startswith(place.rstrip("/") + "/")]
    kind = mounts[max(holding, key=len)] if holding else ""
    return kind in _REMOTE or kind.startswith(_REMOTE_FUSE)


def linux_mounts(listed: str) -> dict[str, str]:
    r"""Return place and kind of each mount in a ``mountinfo`` listing; a later one hides an earlier.

    >>> linux_mounts(r"36 35 98:0 / /mnt/our\040shop rw,noatime shared:1 - nfs4 server:/shop rw")
    {'/mnt/our shop': 'nfs4'}
    """
    mounts = {}
    for line in listed.splitlines():
        before, _, after = line.partition(" - ")
        if after:
            mounts[before.split()[4].replace("\\040", " ").replace("\\134", "\\")] = after.split()[0]
    return mounts


def macos_mounts(listed: str) -> dict[str, str]:
    """Return place and kind of each mount that ``mount`` lists.

    >>> macos_mounts("//us@server/shop on /Volumes/shop (smbfs, nodev, nosuid)")
    {'/Volumes/shop': 'smbfs'}
    """
    mounts = {}
    for line in listed.splitlines():
        place, _, options = line.partition(" on ")[2].rpartition(" (")
        if place:
            mounts[place] = options.partition(",")[0].rstrip(")")
    return mounts
