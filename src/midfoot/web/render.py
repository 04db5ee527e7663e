"""Pages from templates: one environment, and the same frame about every page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from attrs import frozen
from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

from midfoot.store.rows import setting
from midfoot.web import words

if TYPE_CHECKING:
    from midfoot.store import Workspace

NAV = (
    ("/", "Inbox"), ("/lifters", "Lifters"), ("/archive", "Archive"), ("/editions", "Editions"), ("/jobs", "Work"),
)  # fmt: skip
NAV_ASIDE = (("/settings", "Settings"), ("/help", "Help"))


@frozen
class Frame:
    """What the base template needs of every page.

    Attributes
    ----------
    path : str
        The address, so that the page's own link in the navigation can be marked.
    inside : bool
        Whether the reader is let in; without, there is no navigation.
    unit : str
        kg or lb: the unit in which loads are shown.
    """

    path: str
    inside: bool
    unit: str


class Pages:
    """Renders a page's template with its context and the frame."""

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace
        self._environment = Environment(
            loader=PackageLoader("midfoot.web"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._environment.globals |= {"static": static_address, "nav": NAV, "nav_aside": NAV_ASIDE}
        self._environment.filters |= words.FILTERS

    def render(
        self, request: Request, name: str, context: dict[str, Any] | None = None, *, status: int = 200
    ) -> HTMLResponse:
        """Give a page by its template's file name; `context` holds what that template names."""
        inside = bool(request.scope.get("midfoot.session"))
        frame = Frame(path=request.url.path, inside=inside, unit=self.unit() if inside else "kg")
        text = self._environment.get_template(name).render(frame=frame, **(context or {}))
        return HTMLResponse(text, status_code=status)

    def part(self, name: str, context: dict[str, Any]) -> str:
        """Give a fragment of a page, for parts that are drawn again; without `unit` in it that is looked up."""
        unit = context.get("unit") or self.unit()
        return self._environment.get_template(name).render({**context, "unit": unit})

    def unit(self) -> str:
        """Give the unit in which loads are shown: kg unless the coach set lb."""
        with self._workspace.read() as connection:
            return "lb" if setting(connection, "unit", "kg") == "lb" else "kg"


def static_address(name: str) -> str:
    """Give a static file's address: one for each file, so that a module that two others import runs once."""
    return f"/static/{name}"
