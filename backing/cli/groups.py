"""Groups of options: declared as data, read from the command line, written back as words.

A group is a frozen dataclass of texts and flags. Each field's annotation carries its typer option,
and its default is the option's. A command names its groups as parameters; the default of such a
parameter, if any, is an instance whose values are the defaults for this command.
"""

from __future__ import annotations

from dataclasses import fields
from inspect import Parameter, Signature, signature
from typing import TYPE_CHECKING, Any, get_type_hints

if TYPE_CHECKING:
    from collections.abc import Callable


class Group:
    """A group of options."""

    __slots__ = ()

    def check(self) -> None:
        """Check the values of the options.

        Raises:
            SettingsError: when a text cannot be read or is not allowed.
        """

    def words(self, defaults: Group | None = None) -> tuple[str, ...]:
        """Return the words to type for the values that differ from the defaults.

        Args:
            defaults: the defaults of a command; None for those of the group.
        """
        found: list[str] = []
        defaults = defaults or type(self)()
        for name, option in options_of(type(self)).items():
            value = getattr(self, name)
            if value != getattr(defaults, name):
                found += [option] if value is True else [option, value]
        return tuple(found)


def options_of(group: type[Group]) -> dict[str, str]:
    """Return the option of each field of a group, such as `--count-in`."""
    return {name: _option(name, hint) for name, hint in _hints(group).items()}


def _hints(group: type[Group]) -> dict[str, Any]:
    """Return the annotations of a group's fields in the order of the help."""
    hints = get_type_hints(group, include_extras=True)
    return {field.name: hints[field.name] for field in fields(group)}  # type: ignore[arg-type]


def _option(name: str, hint: Any) -> str:
    (declared,) = hint.__metadata__
    names = [each for each in (declared.default, *(declared.param_decls or ())) if each is not ...]
    return next((each for each in names if each.startswith("--")), f"--{name.replace('_', '-')}")


def spread(run: Callable[..., None]) -> Callable[..., None]:
    """Return a command whose signature has a parameter for each option of its groups.

    When it is called, it makes the groups from their options, checks them in the order of the
    signature, and runs.
    """
    groups: dict[str, type[Group]] = {}
    parameters: list[Parameter] = []
    for name, parameter in signature(run, eval_str=True).parameters.items():
        if isinstance(parameter.annotation, type) and issubclass(parameter.annotation, Group):
            groups[name] = parameter.annotation
            parameters += _parameters(parameter)
        else:
            parameters.append(parameter.replace(kind=Parameter.KEYWORD_ONLY))

    def command(**given: Any) -> None:
        for name, group in groups.items():
            given[name] = group(**{each: given.pop(each) for each in _hints(group)})
            given[name].check()
        run(**given)

    command.__doc__, command.__module__ = run.__doc__, run.__module__
    command.__signature__ = Signature(parameters)  # type: ignore[attr-defined]
    command.__annotations__ = {each.name: each.annotation for each in parameters}
    return command


def _parameters(parameter: Parameter) -> list[Parameter]:
    """Return a parameter for each option of a group."""
    group = parameter.annotation
    defaults = group() if parameter.default is Parameter.empty else parameter.default
    return [
        Parameter(name, Parameter.KEYWORD_ONLY, default=getattr(defaults, name), annotation=hint)
        for name, hint in _hints(group).items()
    ]
