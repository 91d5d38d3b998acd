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
# A process that does not answer for this long is replaced; on a stop, requests under way may end for as long as that.
timeout = 60
graceful_timeout = 30
# A process is replaced now and then, not all at once, so that nothing piles up over months.
max_requests = 5000
max_requests_jitter = 500
# The signs of life between processes lie in memory where there is such a place: a slow disk must look like no hang.
worker_tmp_dir = "/dev/shm" if Path("/dev/shm").is_dir() else None
control_socket_disable = True
# The request lines are Bobbin's own (config/log_lines.py): gunicorn's would hold addresses and queries.
accesslog = None
if os.environ.get("LOG_FORMAT") == "json":
    logconfig_dict = logging_settings("json")
