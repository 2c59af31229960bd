"""Where results lie: a small file a night, apart for every version of what makes them."""

import ast
import hashlib
import os
import tempfile
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parents[3]
_MATTERS: Final = tuple(
    f"driftlead.{name}."
    for name in ("geodesy", "nmea", "simulate", "statistics", "tackle", "track", "watch")
)
_OURS: Final = "tests.bench.proof."
_BEGINS: Final = "tests.bench.proof.night"
_AFTERWARDS: Final = "driftlead.watch.decision"
"""Taken on the recorded evidence each time, so that a new limit needs no new run."""


def default_folder() -> Path:
    """The user's folder for what can be made again; the temporary one where there is none."""
    home = os.environ.get("XDG_CACHE_HOME")
    base = Path(home) if home else Path(tempfile.gettempdir())
    return base / "driftlead-proof"


def version() -> str:
    """What the figures depend on, as a short digest; remarks and layout do not count."""
    digest = hashlib.sha256()
    for name, tree in sorted(_parts().items()):
        digest.update(f"{name} {ast.dump(_bare(tree))}".encode())
    return digest.hexdigest()[:12]


def _parts() -> dict[str, ast.Module]:
    """Each module that a recorded night comes from, found by what imports what."""
    parts: dict[str, ast.Module] = {}
    to_do = [_BEGINS]
    while to_do:
        name = to_do.pop()
        base = ROOT if name.startswith(_OURS) else ROOT / "src"
        path = base / f"{name.replace('.', '/')}.py"
        if name in parts or name == _AFTERWARDS or not path.exists():
            continue
        parts[name] = ast.parse(path.read_bytes())
        imported = (
            node.module or "" for node in ast.walk(parts[name]) if isinstance(node, ast.ImportFrom)
        )
        to_do += [each for each in imported if each.startswith((*_MATTERS, _OURS))]
    return parts


def versions(folder: Path) -> list[str]:
    """Those there are results of, the latest first."""
    found = [path for path in folder.glob("*") if path.is_dir()] if folder.is_dir() else []
    return [path.name for path in sorted(found, key=lambda path: -path.stat().st_mtime)]


def _bare(tree: ast.Module) -> ast.Module:
    """Without docstrings."""
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        if isinstance(body, list):
            node.body = [each for each in body if not _is_text(each)]  # type: ignore[attr-defined]
    return tree


def _is_text(node: ast.AST) -> bool:
    return (
        isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    )


def night_path(
    folder: Path, of_version: str, seed: int, *, drags: bool, hours: float, real: bool
) -> Path:
    """The file of one night; ``real``: under the error of a real receiver."""
    kind, error = "drag" if drags else "hold", "-real" if real else ""
    return folder / of_version / f"{hours:g}h{error}" / f"{kind}-{seed}.json.gz"
