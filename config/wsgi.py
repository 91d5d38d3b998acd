"""The WSGI entry point that gunicorn or another server loads."""

import os

from django.core.wsgi import get_wsgi_application

from config.private_files import UMASK

os.umask(UMASK)
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_wsgi_application()
