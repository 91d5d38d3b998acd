"""The WSGI entry point that gunicorn or another server loads."""

import gc
import os
from importlib import import_module

from django.conf import settings
from django.core.wsgi import get_wsgi_application

from config.private_files import UMASK

os.umask(UMASK)
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_wsgi_application()
import_module(settings.ROOT_URLCONF)  # every page of the program, before the first request
gc.freeze()  # it stays as long as the process: the collector of rubbish need not look through it again and again
