"""Errors of the bench tests: each says what, where, and what is accepted."""


class BenchError(ValueError):
    """A reading that cannot be.

    key      where: the key of the reading, or "table[row].column" with rows counted from 1
    message  a sentence that a person at the bench can act on
    """

    def __init__(self, key: str, message: str):
        super().__init__(message)
        self.key = key
        self.message = message

    def __str__(self):
        return self.message


class UnknownTest(KeyError):
    """No bench test has this code. The message lists the codes there are."""

    def __init__(self, code: str, codes):
        self.code = code
        self.codes = tuple(sorted(codes))
        super().__init__(f'There is no bench test "{code}". Use one of: {", ".join(self.codes)}.')

    def __str__(self):
        return self.args[0]
