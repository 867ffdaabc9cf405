"""Every write, sync, truncation and deletion that the SQLite library of this Python makes, in order.

A shim between the library and its own file layer, put into the very library that ships, by its own
interface for that (``sqlite3_vfs_register``): each call is noted and then carried out as ever. What one
process wrote can so be replayed up to any moment, as a power cut would leave it.
"""

from __future__ import annotations

import _sqlite3
import ctypes as c
from dataclasses import dataclass
from pathlib import Path

OK = 0
_lib = c.CDLL(_sqlite3.__file__)  # its symbols are the library's, linked in or beside it


@dataclass(frozen=True, slots=True)
class Op:
    """One thing done to the disk; ``kind``: write, sync, truncate, delete, or ack (the work's own mark)."""

    kind: str
    name: str = ""
    at: int = 0
    data: bytes = b""


class IoMethods(c.Structure):
    """``sqlite3_io_methods``, version 3."""

    _fields_ = [
        ("iVersion", c.c_int),
        *((name, c.c_void_p) for name in (
            "xClose", "xRead", "xWrite", "xTruncate", "xSync", "xFileSize", "xLock", "xUnlock",
            "xCheckReservedLock", "xFileControl", "xSectorSize", "xDeviceCharacteristics", "xShmMap",
            "xShmLock", "xShmBarrier", "xShmUnmap", "xFetch", "xUnfetch",
        )),
    ]  # fmt: skip


class File(c.Structure):
    """``sqlite3_file``: the table of methods first, the rest is the layer's own."""

    _fields_ = [("pMethods", c.POINTER(IoMethods))]


class Vfs(c.Structure):
    """``sqlite3_vfs``, version 3."""

    _fields_ = [
        ("iVersion", c.c_int), ("szOsFile", c.c_int), ("mxPathname", c.c_int), ("pNext", c.c_void_p),
        ("zName", c.c_char_p), ("pAppData", c.c_void_p), ("xOpen", c.c_void_p), ("xDelete", c.c_void_p),
        *((name, c.c_void_p) for name in (
            "xAccess", "xFullPathname", "xDlOpen", "xDlError", "xDlSym", "xDlClose", "xRandomness", "xSleep",
            "xCurrentTime", "xGetLastError", "xCurrentTimeInt64", "xSetSystemCall", "xGetSystemCall",
            "xNextSystemCall",
        )),
    ]  # fmt: skip


_OPEN = c.CFUNCTYPE(c.c_int, c.POINTER(Vfs), c.c_void_p, c.POINTER(File), c.c_int, c.POINTER(c.c_int))
_DELETE = c.CFUNCTYPE(c.c_int, c.POINTER(Vfs), c.c_char_p, c.c_int)
_WRITE = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_void_p, c.c_int, c.c_longlong)
_TRUNCATE = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_longlong)
_SYNC = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_int)


class Recorder:
    """Notes what the library does to the files of one folder, from ``start`` on."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.ops = str(folder), []
        self._names: dict[int, str] = {}
        self._alive: list[object] = []

    def ack(self, text: str) -> None:
        """Note that the work told somebody so."""
        self.ops.append(Op("ack", text))

    def start(self) -> None:
        """Put the shim in, as what every connection opened from here on goes through."""
        find, register = _lib.sqlite3_vfs_find, _lib.sqlite3_vfs_register
        find.restype, find.argtypes = c.POINTER(Vfs), [c.c_char_p]
        register.argtypes = [c.POINTER(Vfs), c.c_int]
        self._real = find(None).contents
        shim = Vfs.from_buffer_copy(self._real)
        real_open, real_delete = _OPEN(self._real.xOpen), _DELETE(self._real.xDelete)

        def open_(_vfs, name, file, flags, out):
            told = real_open(c.pointer(self._real), name, file, flags, out)
            if told == OK and name and file.contents.pMethods:
                self._watch(file, c.string_at(name).decode())
            return told

        def delete(_vfs, name, sync_folder):
            if name.decode().startswith(self.folder):
                self.ops.append(Op("delete", Path(name.decode()).name, sync_folder))
            return real_delete(c.pointer(self._real), name, sync_folder)

        shim.xOpen, shim.xDelete = self._keep(_OPEN(open_)), self._keep(_DELETE(delete))
        shim.zName, shim.pNext = b"recording", None
        self._alive.append(shim)
        if register(c.pointer(shim), 1) != OK:
            raise RuntimeError("the library does not take the shim")

    def _keep(self, function) -> int:
        self._alive.append(function)
        return c.cast(function, c.c_void_p).value

    def _watch(self, file, path: str) -> None:
        if not path.startswith(self.folder) or path.endswith("-shm"):
            return
        name, real = Path(path).name, file.contents.pMethods.contents
        mine = IoMethods.from_buffer_copy(real)
        write, truncate, sync = _WRITE(real.xWrite), _TRUNCATE(real.xTruncate), _SYNC(real.xSync)

        def write_(handle, data, size, at):
            self.ops.append(Op("write", name, at, c.string_at(data, size)))
            return write(handle, data, size, at)

        def truncate_(handle, size):
            self.ops.append(Op("truncate", name, size))
            return truncate(handle, size)

        def sync_(handle, flags):
            told = sync(handle, flags)
            self.ops.append(Op("sync", name))
            return told

        mine.xWrite = self._keep(_WRITE(write_))
        mine.xTruncate = self._keep(_TRUNCATE(truncate_))
        mine.xSync = self._keep(_SYNC(sync_))
        self._alive.append(mine)
        file.contents.pMethods = c.pointer(mine)
