"""Results for other programs; can be called.

export(result, "cup.vtu"): writes fields, or the history as .csv.
"""

from sinkbowl_post.called import can_be_called

can_be_called(__name__, "export.export")
