"""The seal of a file: its first 512 bytes, with the SHA-256 of the rest.

libhdf5 does not validate files: a wrong byte in the structure can make it hang or crash, and one in
the numbers is not noticed. So a file is compared with its seal before libhdf5 opens it. This
detects damage and changes by other programs, but not forgery: an attacker can seal a file again
(see safe_reading.py).

The seal is in the user block of HDF5, which readers skip (HDF5
File Format Specification, II.A, "Superblock": it may begin at byte 512).
"""

import hashlib
import io
from io import BufferedRandom, BufferedReader
from pathlib import Path

from sinkbowl.common.errors import ResultError

USER_BLOCK = 512  # length of the seal and of the user block [bytes]


def seal(file: io.FileIO | BufferedRandom, kind: str, schema: str) -> None:
    """Seal a file closed by HDF5.

    file : HDF5 file with a user block, open for reading and writing
    kind : of file, in words without a comma, "sinkbowl result"
    schema : version of its layout

    Raises OSError if it cannot be written.
    """
    file.seek(USER_BLOCK)
    digest = _digest(file)
    file.seek(0)
    file.write(_text(kind, schema, digest))


def check_seal(path: Path, kind: str, schema: str) -> None:
    """Check that the bytes of a file are those that were sealed.

    Raises ResultError if it has no seal of this kind and schema, or is damaged or changed, OSError
    if it cannot be read.
    """
    with path.open("rb") as file:
        found = file.read(USER_BLOCK)
        _check_kind(path, found, kind, schema)
        if found == _text(kind, schema, _digest(file)):
            return
    raise ResultError(
        f"{path}: is damaged, or was changed by another program: its SHA-256 is not that in its "
        "first lines. Use another copy, or compute it again."
    )


def _check_kind(path: Path, found: bytes, kind: str, schema: str) -> None:
    """Refuse another kind or another schema, by the first line of a file."""
    beginning = f"{kind}, schema ".encode()
    if not found.startswith(beginning):
        hint = f" Compute a case first: sinkbowl run {path}" if path.suffix == ".toml" else ""
        raise ResultError(
            f"{path}: is not a {kind} (it does not begin with these words), or is damaged.{hint}"
        )
    written = found.split(b"\n")[0].removeprefix(beginning)
    if written != schema.encode() and written.isdigit() and len(written) < 5:
        raise ResultError(
            f"{path}: has schema {written.decode()}, this version reads {schema}. Compute it "
            "again, or read it with the version that wrote it."
        )


def _digest(file: io.FileIO | BufferedReader | BufferedRandom) -> str:
    return hashlib.file_digest(file, "sha256").hexdigest()


def _text(kind: str, schema: str, digest: str) -> bytes:
    lines = (
        f"{kind}, schema {schema}",
        f"HDF5 from byte {USER_BLOCK} on, with the SHA-256",
        digest,
    )
    return "\n".join(lines).encode().ljust(USER_BLOCK, b"\n")
