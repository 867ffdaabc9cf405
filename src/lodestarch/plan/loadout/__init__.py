"""Load-out: watch a cargo go aboard, with results that come an hour behind.

``cargo`` holds what is asked and what was loaded; ``running`` the figures so far; ``forecast`` the odds of
the end, sublots that are loaded and not yet tested carried as odds; ``draw`` what to draw next; ``stopping``
whether to wait for results; ``remedy`` what to do about a sublot that is under; ``replay`` a recorded cargo,
step by step.
"""
