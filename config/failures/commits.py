"""Whether a request has committed anything: decides whether it can be repeated, and what the failure page says."""

from django.db import connection

WRITES = ("INSERT", "UPDATE", "DELETE", "REPLACE")


class Commits:
    """Watches the statements of one request. `any` is true once others can see a change."""

    def __init__(self):
        self.any = False
        self._mark = self.mark  # one object, so that it is recognised among the callbacks

    def mark(self):
        self.any = True

    def watch(self, execute, sql, params, many, context):
        """An execute wrapper: a write outside a transaction is committed at once, any other with its transaction."""
        result = execute(sql, params, many, context)
        if not self.any and sql.lstrip()[:7].upper().startswith(WRITES):
            if not connection.in_atomic_block:
                self.mark()
            elif not any(callback is self._mark for _, callback, _ in connection.run_on_commit):
                connection.on_commit(self._mark)
        return result


class CommitWatch:
    """Give each request its Commits as `request.commits`."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        request.commits = Commits()
        with connection.execute_wrapper(request.commits.watch):
            return self.get_response(request)
