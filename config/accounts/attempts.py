"""Keep of a failed sign-in who and when, and nothing that was typed."""


def forget_what_was_sent(sender, instance, **kwargs):
    """Receiver of pre_save of AccessAttempt: the library would store the form, and secrets with it."""
    instance.get_data = instance.post_data = ""
