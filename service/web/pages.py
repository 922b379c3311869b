"""Pages for people."""

from __future__ import annotations

from flask import Blueprint, Response, render_template
from werkzeug.exceptions import NotFound

from service.web.problems import TITLES

blueprint = Blueprint("pages", __name__)

PAGE_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; frame-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)


@blueprint.get("/problems/<key>")
def problem_page(key: str) -> Response:
    """Explain a problem type."""
    if key not in TITLES:
        raise NotFound("There is no such problem type.")
    status, title, text = TITLES[key]
    return page("problem.html", title=title, status=status, text=text, key=key)


def page(template: str, **values: object) -> Response:
    """Return a page from a template."""
    response = Response(render_template(template, **values), content_type="text/html; charset=utf-8")
    response.headers["Content-Security-Policy"] = PAGE_POLICY
    return response
