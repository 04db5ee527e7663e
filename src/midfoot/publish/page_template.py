"""The templates of the pages: one environment, in which a name that is not given is an error."""

from __future__ import annotations

from jinja2 import Environment, PackageLoader, StrictUndefined, Template


def page_template(name: str) -> Template:
    """Give a page's template by its file name; what is put into it is escaped."""
    environment = Environment(
        loader=PackageLoader("midfoot.publish"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(name)
