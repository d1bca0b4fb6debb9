"""Watches what SQLite really writes, syncs, cuts and deletes, by wrapping its own VFS in this process.

The sqlite3 module's library is asked for its default VFS (C interface: sqlite.org/c3ref/vfs.html and
io_methods.html), and the file methods of every file opened from then on are replaced by ones that note
the call and pass it on. So the log holds the true order of writes and syncs of the true library, from
which any disk that a power cut could leave behind can be put together.
"""

from __future__ import annotations

import _sqlite3
import ctypes
from collections.abc import Callable
from ctypes import CFUNCTYPE, POINTER, c_char_p, c_int, c_int64, c_void_p
from dataclasses import dataclass
from typing import Any

_CLOSE = CFUNCTYPE(c_int, c_void_p)
_WRITE = CFUNCTYPE(c_int, c_void_p, c_void_p, c_int, c_int64)
_TRUNCATE = CFUNCTYPE(c_int, c_void_p, c_int64)
_SYNC = CFUNCTYPE(c_int, c_void_p, c_int)
#: The name is passed on as the very pointer that came: SQLite's files keep it until they are closed (they
#: make the name of the -shm file from it), and a Python copy of the text is gone by then.
_OPEN = CFUNCTYPE(c_int, c_void_p, c_void_p, c_void_p, c_int, POINTER(c_int))
_DELETE = CFUNCTYPE(c_int, c_void_p, c_char_p, c_int)


class _Methods(ctypes.Structure):
    _fields_ = [
        ("iVersion", c_int),
        ("xClose", _CLOSE),
        ("xRead", c_void_p),
        ("xWrite", _WRITE),
        ("xTruncate", _TRUNCATE),
        ("xSync", _SYNC),
        ("rest", c_void_p * 13),  # xFileSize ... xUnfetch, untouched
    ]


class _File(ctypes.Structure):
    _fields_ = [("pMethods", POINTER(_Methods))]


class _Vfs(ctypes.Structure):
    _fields_ = [
        ("iVersion", c_int),
        ("szOsFile", c_int),
        ("mxPathname", c_int),
        ("pNext", c_void_p),
        ("zName", c_char_p),
        ("pAppData", c_void_p),
        ("xOpen", _OPEN),
        ("xDelete", _DELETE),
    ]


@dataclass(frozen=True)
class Act:
    """One thing done to the disk, or (what == 'ack') the moment at which a commit had returned.

    what: 'write' (offset, data), 'truncate' (offset: the new size), 'sync', 'delete', 'ack' (path: a note).
    """

    what: str
    path: str
    offset: int = 0
    data: bytes = b""


class DiskSpy:
    """Installed once in a process; `log` grows with every act. `fail` may refuse a write or a sync:
    it is given the act and returns a SQLite result code, 0 to let it pass."""

    def __init__(self, fail: Callable[[Act], int] | None = None) -> None:
        self.log: list[Act] = []
        self._fail = fail
        self._paths: dict[int, str] = {}
        self._originals: dict[int, Any] = {}
        self._made: dict[int, _Methods] = {}
        library = ctypes.CDLL(_sqlite3.__file__)
        library.sqlite3_vfs_find.restype = POINTER(_Vfs)
        library.sqlite3_vfs_find.argtypes = [c_char_p]
        self._vfs = library.sqlite3_vfs_find(None).contents
        self._open_before = ctypes.cast(self._vfs.xOpen, c_void_p).value
        self._delete_before = ctypes.cast(self._vfs.xDelete, c_void_p).value
        self._true_open = _OPEN(self._open_before)
        self._true_delete = _DELETE(self._delete_before)
        self._open_hook = _OPEN(self._on_open)
        self._delete_hook = _DELETE(self._on_delete)
        self._vfs.xOpen = self._open_hook
        self._vfs.xDelete = self._delete_hook
        self._hooks = (
            _CLOSE(self._on_close),
            _WRITE(self._on_write),
            _TRUNCATE(self._on_truncate),
            _SYNC(self._on_sync),
        )

    def note(self, text: str) -> None:
        self.log.append(Act("ack", text))

    def _on_open(self, vfs: int, name: int | None, file: int, flags: int, out: Any) -> int:
        code: int = self._true_open(vfs, name, file, flags, out)
        if code == 0 and name:
            opened = _File.from_address(file)
            address = ctypes.addressof(opened.pMethods.contents)
            if address not in self._made:
                original = opened.pMethods.contents
                copy = _Methods.from_buffer_copy(original)
                copy.xClose, copy.xWrite, copy.xTruncate, copy.xSync = self._hooks
                self._made[address] = copy
                self._originals[ctypes.addressof(copy)] = original
            self._paths[file] = ctypes.string_at(name).decode()
            opened.pMethods = ctypes.pointer(self._made[address])
        return code

    def _original(self, file: int) -> Any:
        address = ctypes.addressof(_File.from_address(file).pMethods.contents)
        return self._originals[address]

    def _do(self, act: Act) -> int:
        if self._fail is not None and (code := self._fail(act)):
            return code
        self.log.append(act)
        return 0

    def _on_close(self, file: int) -> int:
        original = self._original(file)
        _File.from_address(file).pMethods = ctypes.pointer(original)
        self._paths.pop(file, None)
        code: int = original.xClose(file)
        return code

    def _on_write(self, file: int, data: int, size: int, offset: int) -> int:
        act = Act("write", self._paths[file], offset, ctypes.string_at(data, size))
        return self._do(act) or int(self._original(file).xWrite(file, data, size, offset))

    def _on_truncate(self, file: int, size: int) -> int:
        return self._do(Act("truncate", self._paths[file], size)) or int(
            self._original(file).xTruncate(file, size)
        )

    def _on_sync(self, file: int, flags: int) -> int:
        return self._do(Act("sync", self._paths[file])) or int(self._original(file).xSync(file, flags))

    def _on_delete(self, vfs: int, name: bytes, sync_folder: int) -> int:
        return self._do(Act("delete", name.decode())) or int(self._true_delete(vfs, name, sync_folder))
