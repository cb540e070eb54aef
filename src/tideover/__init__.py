"""Tideover computes small battery-backed DC supplies before they are soldered.

Its public face is loaded when it is first used, so that ``import tideover`` costs next to nothing; see
``docs/python.md``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.2.0"

if TYPE_CHECKING:
    from tideover.answers.base import Answer, Finding
    from tideover.design import BuildError
    from tideover.network import Network
    from tideover.network import load as read
    from tideover.quantity import Quantity
    from tideover.solve import build, march, rest
    from tideover.traces import Trace, trace

_FACE: dict[str, tuple[str, str]] = {
    "Answer": ("tideover.answers.base", "Answer"),
    "BuildError": ("tideover.design", "BuildError"),
    "Finding": ("tideover.answers.base", "Finding"),
    "Network": ("tideover.network", "Network"),
    "Quantity": ("tideover.quantity", "Quantity"),
    "Trace": ("tideover.traces", "Trace"),
    "build": ("tideover.solve", "build"),
    "march": ("tideover.solve", "march"),
    "read": ("tideover.network", "load"),
    "rest": ("tideover.solve", "rest"),
    "trace": ("tideover.traces", "trace"),
}
"""Name in the public face: module that holds it, and its name there."""

__all__ = [
    "Answer",
    "BuildError",
    "Finding",
    "Network",
    "Quantity",
    "Trace",
    "__version__",
    "build",
    "march",
    "read",
    "rest",
    "sheet",
    "trace",
]


def sheet(
    network: Any, keys: Any = None, seed: int = 1, samples: int = 2000, executor: Any = None, told: Any = None
) -> tuple[Answer, ...]:
    """Answer the questions of the sheet.

    Parameters
    ----------
    network : Network, str or Path
        A network, or the build file to read. [-]
    keys : sequence of str, optional
        Which questions, by key of `tideover.answers.base.QUESTIONS`, or one of them; all when left out. [-]
    seed : int
        Of the random draws. [-]
    samples : int
        Builds drawn at random where an answer samples. [-]
    executor : concurrent.futures.Executor, optional
        Who shares long work, such as ``tideover.cases.pool()`` or a cluster's; this process unless told. It changes no
        number. [-]
    told : callable, optional
        ``told(done, total)`` while long work goes on. [-]

    Returns
    -------
    answers : tuple of Answer
        In the order asked for, or that of the sheet.

    Raises
    ------
    BuildError
        A build file that cannot be used.
    KeyError
        A key that is none; its text lists those there are.
    """
    from tideover.answers.base import QUESTIONS
    from tideover.answers.sheet import sheet as answer
    from tideover.network import Network, load

    keys = (keys,) if isinstance(keys, str) else keys if keys is None else tuple(keys)
    for key in keys or ():
        if key not in QUESTIONS:
            raise KeyError(f"{key!r} is no question of the sheet; there are {', '.join(QUESTIONS)}")
    network = network if isinstance(network, Network) else load(network)
    return answer(network, keys=keys, seed=seed, samples=samples, executor=executor, told=told)


def __getattr__(name: str) -> Any:
    if name not in _FACE:
        raise AttributeError(f"tideover has no {name!r}; it has {', '.join(__all__)}")
    from importlib import import_module

    module, inside = _FACE[name]
    value = getattr(import_module(module), inside)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
