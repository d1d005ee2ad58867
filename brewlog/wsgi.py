"""The WSGI application, for waitress, gunicorn and their kin."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "brewlog.settings")

application = get_wsgi_application()
