"""The desk in a browser: routes, pages and static files over the workspace."""
