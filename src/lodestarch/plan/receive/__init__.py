"""Receiving: which load to test, which bin it goes to, and whether the truck waits.

Three answers from one belief. ``belief`` holds what is known of every load on the scale log LN, from its
field, its variety and the loads tested so far; ``grades`` are what grain fetches; ``blend_value`` says what
LN is worth when bins are blended up to the limits at load-out; ``ranges`` cuts the grain into bins;
``worth`` is what a test would change; ``desk`` puts them together, one word at the probe; ``posting`` is the
rule on the wall; ``waiting`` the queue. ``harvest`` and ``simulate`` play whole harvests to compare rules.
"""
