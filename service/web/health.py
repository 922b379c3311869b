"""Liveness, readiness, metrics and the specification."""

from __future__ import annotations

import hashlib
import math
from pathlib import Path

import orjson
from flask import Blueprint, Response, current_app
from werkzeug.exceptions import NotFound as NoPage

import service
from service import units
from service.lookups import breakdown
from service.parameters import read_question
from service.render.templating import ENVIRONMENT
from service.web.responses import tag_of, tagged
from service.web.workshop import workshop

blueprint = Blueprint("health", __name__)

KNOWN_ANSWER = (("gap", "5mm"), ("electrodes", "sphere-gap"), ("sphere_diameter", "2cm"))
KNOWN_VOLTAGE = 17.4
"""IEC 60052 Table 2: spheres of 2 cm at 0.5 cm [kV peak]."""


@blueprint.get("/health/live")
def live() -> Response:
    """Say that the process runs."""
    return _unstored({"status": "live"})


@blueprint.get("/health/ready")
def ready() -> Response:
    """Load the data, compile the templates and compute one known answer."""
    compile_templates()
    shop = workshop()
    registry = shop.registry
    parameters = shop.lookups["breakdown"].parameters
    _, found = breakdown.evaluated(read_question("breakdown", parameters, KNOWN_ANSWER), registry)
    value = units.shown(float(found.value[0]), "voltage")
    overlaid = shop.configuration.overlay is not None
    agrees = overlaid or math.isclose(value, KNOWN_VOLTAGE, rel_tol=0.03)
    document: dict[str, object] = {
        "status": "ready" if agrees else "wrong",
        "known_answer_kV": value,
        **registry.versions,
    }
    return _unstored(document, 200 if agrees else 503)


def compile_templates() -> None:
    """Compile all templates, for which the first page of a process would else take 40 ms more; they are kept."""
    for environment in (ENVIRONMENT, current_app.jinja_env):
        for name in environment.list_templates(("html", "svg")):
            environment.get_template(name)


@blueprint.get("/metrics")
def metrics() -> Response:
    """Return metrics in Prometheus text, where they are switched on."""
    if not workshop().configuration.metrics:
        raise NoPage("Metrics are off; SERVICE_METRICS switches them on.")
    from prometheus_client import CONTENT_TYPE_LATEST

    from service.web.metrics import text

    response = Response(text(), content_type=CONTENT_TYPE_LATEST)
    response.headers["Cache-Control"] = "no-store"
    return response


@blueprint.get("/openapi.yaml")
def openapi() -> Response:
    """Return the specification."""
    text = specification_file().read_bytes()
    return tagged(tag_of(hashlib.sha256(text).hexdigest()), "application/yaml", lambda: text, workshop().cache)


def specification_file() -> Path:
    """Return the committed specification: beside the package in a checkout, inside it in a wheel."""
    inside = Path(service.__file__).parent / "openapi.yaml"
    return inside if inside.exists() else inside.parents[1] / inside.name


def _unstored(document: dict[str, object], status: int = 200) -> Response:
    response = Response(
        orjson.dumps(document, option=orjson.OPT_APPEND_NEWLINE), status=status, content_type="application/json"
    )
    response.headers["Cache-Control"] = "no-store"
    return response
