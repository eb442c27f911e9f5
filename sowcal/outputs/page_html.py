"""Markup that is safe by construction: what is not `Html` already is escaped on its way in."""

from __future__ import annotations

import html
from typing import Any

from sowcal.outputs.screen import plain

__all__ = ["Html", "join", "slug", "tag"]

_VOID = {"meta", "input", "br", "link"}


class Html(str):
    """Text that is markup already."""

    __slots__ = ()


def _markup(content: object) -> str:
    if isinstance(content, Html):
        return content
    if content is None:
        return ""
    if isinstance(content, (list, tuple)):
        return "".join(map(_markup, content))
    return html.escape(plain(content))


def _attribute(name: str, value: object) -> str:
    if value is None or value is False:
        return ""
    name = name.strip("_").replace("_", "-")
    return f" {name}" if value is True else f' {name}="{html.escape(plain(value))}"'


def join(*content: Any) -> Html:
    """Pieces after one another."""
    return Html("".join(map(_markup, content)))


def tag(element: str, *content: Any, **attributes: Any) -> Html:
    """One element.

    Parameters
    ----------
    element : str
        Name of the element.
    *content : Html, text, numbers or sequences of them
        Anything but `Html` is escaped, control characters shown as escapes; None is nothing.
    **attributes : text, numbers or bool
        `class_` is class, `aria_label` is aria-label; True stands bare, None and False are left out.
    """
    opening = f"<{element}{''.join(_attribute(k, v) for k, v in attributes.items())}>"
    return Html(opening) if element in _VOID else Html(f"{opening}{join(*content)}</{element}>")


def slug(text: str) -> str:
    """Letters and digits of a name, for the id of an element."""
    return "-".join("".join(c if c.isalnum() and c.isascii() else " " for c in text.lower()).split())
