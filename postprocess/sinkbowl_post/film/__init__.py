"""The cutaway film of a run; can be called.

film(result, "cup.mp4"): writes it.
"""

from sinkbowl_post.called import can_be_called

can_be_called(__name__, "film.make_film")
