"""The only place that knows HTTP."""

from service.web.app import create_app

__all__ = ["create_app"]
