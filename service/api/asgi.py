"""The application as a server finds it: `service.api.asgi:app`, with its settings from the environment."""

import sys

from service.api.app import create_app
from service.api.settings import Settings

# How long a thread that works keeps the interpreter from one that only has to send what is at hand. Python's own five
# milliseconds would be spent on each step of each such answer while another one is being found.
sys.setswitchinterval(0.0005)
app = create_app(Settings.from_environment(), alone=True)
