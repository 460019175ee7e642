"""The application as a server finds it: `service.api.asgi:app`, with its settings from the environment."""

from service.api.app import create_app
from service.api.settings import Settings

app = create_app(Settings.from_environment(), alone=True)
