"""A run beside the reduced models; can be called.

compare(result): sinking times, ratios and discharge coefficients.
"""

from sinkbowl_post.called import can_be_called

can_be_called(__name__, "compare.compare")
