import gc

# A start makes hundreds of thousands of objects that stay. At Python's threshold of 700 new ones, the search for
# circles among them took a fifth of its time.
gc.set_threshold(50_000, 10, 10)

from config.celery import app as celery_app  # noqa: E402

__all__ = ["celery_app"]
