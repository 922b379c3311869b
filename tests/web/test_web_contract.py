"""The interface fuzzed from its own specification; the oracle is the schemathesis library.

Rules across parameters cannot stand in a schema, so what its schemas generate may also be refused with 400 or 422.
"""

from __future__ import annotations

import os

import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.config import SchemathesisConfig

from service.web import create_app
from service.web.arrow_body import MEDIA_TYPE

ACCEPTED = ["2xx", "3xx", "400", "404", "422"]
CONFIG = SchemathesisConfig.from_dict(
    {
        "checks": {"positive_data_acceptance": {"expected-statuses": ACCEPTED}},
        # oEmbed 1.0, 2.3.4: a format that is not offered is answered with 501
        "operations": [
            {
                "include-path": "/oembed",
                "checks": {"not_a_server_error": {"expected-statuses": ["2xx", "3xx", "4xx", "501"]}},
            }
        ],
    }
)
EXAMPLES = 12 if os.environ.get("CI") else 5
"""Examples an operation; the campaign asks thousands more, and checks more of each answer."""


@schemathesis.serializer(MEDIA_TYPE)
def as_bytes(context, value):
    """Return the text that was generated, which is no stream; `test_web_arrow` sends sound and spoiled ones."""
    return str(value).encode()


schema = schemathesis.openapi.from_wsgi("/openapi.yaml", create_app(), config=CONFIG)


@schema.parametrize()
@settings(max_examples=EXAMPLES, suppress_health_check=list(HealthCheck), derandomize=True, deadline=None)
def test_the_interface_keeps_its_contract(case):
    case.call_and_validate()
