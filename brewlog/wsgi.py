"""The WSGI application, for waitress, gunicorn and their kin."""

import gc
import os
from importlib import import_module

from django.conf import settings
from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "brewlog.settings")

application = get_wsgi_application()
# The pages are loaded now rather than by whoever asks first. What is loaded stays: looking
# through it for garbage took a tenth of a second of every fifth start page.
import_module(settings.ROOT_URLCONF)
gc.collect()
gc.freeze()
