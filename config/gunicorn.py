"""Gunicorn in the served installation: gunicorn -c config/gunicorn.py config.wsgi

PORT              default 8000, on all addresses of its container (BIND_ADDRESS, default 0.0.0.0)
WEB_CONCURRENCY   processes, default 2
WEB_THREADS       threads in each, default 8
"""

import os
from pathlib import Path

from config.log_lines import logging_settings

bind = f"{os.environ.get('BIND_ADDRESS', '0.0.0.0')}:{os.environ.get('PORT', '8000')}"
workers = int(os.environ.get("WEB_CONCURRENCY", "2"))
worker_class = "config.serving.worker.BufferingWorker"
threads = int(os.environ.get("WEB_THREADS", "8"))
# A process that does not answer for this long is replaced; at a stop, running requests have this long to end.
timeout = 60
graceful_timeout = 30
# Each process is replaced after some thousand requests, not all at once, so that leaks do not grow for months.
max_requests = 5000
max_requests_jitter = 500
# Heartbeat files are in memory where possible: a slow disk must not look like a process that hangs.
worker_tmp_dir = "/dev/shm" if Path("/dev/shm").is_dir() else None
control_socket_disable = True
# Bobbin writes the request lines itself (config/log_lines.py): those of gunicorn hold addresses and queries.
accesslog = None
if os.environ.get("LOG_FORMAT") == "json":
    logconfig_dict = logging_settings("json")
