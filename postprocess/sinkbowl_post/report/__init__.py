"""One page for the browser that tells the story of one run; can be called.

report(result, "cup.html"): writes it.
"""

from sinkbowl_post.called import can_be_called

can_be_called(__name__, "report.make_report")
