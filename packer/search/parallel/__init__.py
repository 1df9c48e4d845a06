"""Starts spread over workers, counted in their order, and the bound proven beside them.

In: a goal, options and a deadline. Out: the starts that count, and why the search stopped.

    while no stopping rule has a reason
        hand each idle worker a leg of a start, half a second long
        take in legs that are done; one that was lost is made again
        count completed starts in the order of their numbers; ask the rules after each
        one worker proves an upper bound once a packing is known
"""
