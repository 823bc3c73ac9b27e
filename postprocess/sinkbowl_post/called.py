"""Packages that can be called.

``compare``, ``film``, ``export`` and ``report`` are packages, and each does one thing that has its
name. A package that is called loads that function and calls it; so what ``from sinkbowl_post import
film`` gives does not depend on what was imported before, and costs nothing.
"""

from __future__ import annotations

import inspect
import sys
from importlib import import_module
from types import ModuleType
from typing import Any


class CalledPackage(ModuleType):
    """A package that stands for its main function as well."""

    main_function: str
    """Module in the package and function in it, "film.make_film"."""

    def __call__(self, *arguments: Any, **options: Any) -> Any:
        return self._function()(*arguments, **options)

    @property
    def __signature__(self) -> inspect.Signature:
        """Of the function, for help and completion."""
        return inspect.signature(self._function())

    def _function(self) -> Any:
        module, name = self.main_function.split(".")
        return getattr(import_module(f"{self.__name__}.{module}"), name)


def can_be_called(package: str, main_function: str) -> None:
    """Make a package that is being imported one that can be called."""
    module = sys.modules[package]
    module.__class__ = CalledPackage
    module.main_function = main_function  # type: ignore[attr-defined]
