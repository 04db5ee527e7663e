"""The desk in a browser: routes, pages and static files over the workspace."""

from midfoot.web.app import create_app as create_app
