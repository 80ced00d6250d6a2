"""Every error that vrx raises, drawn as a tree.

    VrxError                what could not be done, and what to do about it
    ├── Problems            several of them at once, so that a person mends a file in one go
    ├── InputError          a file can't be read, or says something that can't be used
    │   ├── LayerChoiceError  none of its layers is meant, or several may be
    │   ├── PlanError       a key of a plan
    │   ├── UnitError       a quantity or its unit
    │   └── CrsError        where on earth the coordinates are
    │       ├── NoCrsError          the file does not say
    │       ├── UnknownCrsError     what it says is no system that is known
    │       └── ImpossiblePlaceError  no place of that system has such coordinates
    ├── GeometryError       shapes that can't be worked with
    └── OutputError         a file or folder that can't be written

A thing that a person should look at, but that does not stop the work, is a
:class:`vrx.model.finding.Finding`, not an error.
"""

from __future__ import annotations

from collections.abc import Iterable


class VrxError(Exception):
    """Cannot go on.

    Parameters
    ----------
    problem : str
        What was found, with its value and unit, and what was expected.
    remedy : str
        An instruction: what to do about it.
    where : str
        File, key, line or record; empty where there is none.
    key : tuple of str and int
        The key of the plan that ``where`` names, for whoever knows in which file and on which line it stands.
    """

    def __init__(self, problem: str, *, remedy: str = "", where: str = "", key: tuple[str | int, ...] = ()) -> None:
        super().__init__(problem)
        self.problem = problem
        self.remedy = remedy
        self.where = where
        self.key = key

    def __str__(self) -> str:
        head = f"{self.where}: {self.problem}" if self.where else self.problem
        return f"{head} {self.remedy}".rstrip()

    def __reduce__(self) -> tuple[object, ...]:
        # Keyword arguments do not survive the default pickling; batches send errors between processes.
        return (_again, (type(self), self.problem, self.remedy, self.where, self.key))

    @property
    def each(self) -> tuple[VrxError, ...]:
        """The single problems: this one, or all of a :class:`Problems`."""
        return (self,)

    def at(self, where: str, key: tuple[str | int, ...] = ()) -> VrxError:
        """Return the same error with a place, unless it already has one."""
        return self if self.where else type(self)(self.problem, remedy=self.remedy, where=where, key=key)


class Problems(VrxError):  # noqa: N818 - it is several errors, and says so
    """Several problems of one input, reported together.

    Parameters
    ----------
    errors : iterable of VrxError
        At least one.
    """

    def __init__(self, errors: Iterable[VrxError]) -> None:
        self._each = tuple(one for error in errors for one in error.each)
        super().__init__("; ".join(str(error) for error in self._each))

    def __reduce__(self) -> tuple[object, ...]:
        return (Problems, (self._each,))

    @property
    def each(self) -> tuple[VrxError, ...]:
        """The single problems."""
        return self._each

    def at(self, where: str, key: tuple[str | int, ...] = ()) -> VrxError:
        """Return the same errors, each with a place unless it already has one."""
        return Problems(error.at(where, key) for error in self._each)


class InputError(VrxError):
    """A file can't be read, or says something that can't be used."""


class LayerChoiceError(InputError):
    """A folder or file holds no layer, or several, and it is not said which one is meant."""


class PlanError(InputError):
    """A key of a plan is wrong, missing or unknown."""


class UnitError(InputError):
    """A quantity has no unit, one of the wrong kind, or one that is read in two ways."""


class CrsError(InputError):
    """The coordinate reference system is missing, unknown, or does not fit the coordinates."""


class NoCrsError(CrsError):
    """A file does not say its coordinate reference system."""


class UnknownCrsError(CrsError):
    """What a file says of its coordinate reference system can't be read."""


class ImpossiblePlaceError(CrsError):
    """Coordinates that no place has in the system that they are said to be in."""


class GeometryError(VrxError):
    """Shapes that can't be worked with."""


class OutputError(VrxError):
    """A file or folder can't be written."""


def _again(kind: type[VrxError], problem: str, remedy: str, where: str, key: tuple[str | int, ...]) -> VrxError:
    return kind(problem, remedy=remedy, where=where, key=key)
