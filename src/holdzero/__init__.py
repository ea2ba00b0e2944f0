"""holdzero: does this machine hold zero?

To hold zero is shop language: switch it off, switch it on, home it, and every axis is back where it
was, with the gantry square.

In Python each question is a function of this package, brought in when it is first named: `import holdzero as hz`,
then `hz.study(...)`, `hz.choose(...)` and the others of `docs/python.md`; with types, from `holdzero.door`.
"""

TYPE_CHECKING = False
if TYPE_CHECKING:  # importing this package stays as quick as it can be
    from typing import Any

__version__ = "0.1.0"
__all__ = [  # of `holdzero.door`; what each module imports of this one is the version alone
    "book",
    "budget",
    "capture",
    "choose",
    "fleet",
    "index",
    "install",
    "machine",
    "plan",
    "record",
    "sensors",
    "spread",
    "square",
    "standing",
    "study",
    "travel",
    "watch",
    "wiring",
]


def __getattr__(name: str) -> "Any":
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    door = import_module("holdzero.door")
    globals().update({function: getattr(door, function) for function in __all__})
    return globals()[name]


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
