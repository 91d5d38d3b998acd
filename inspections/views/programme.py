def programme(request):
    raise NotImplementedError
