"""From a local optimum to a packing: last digits, certificate, rattlers, distance.

In: the best local optimum of a search. Out: a `Packing` that can be judged without the search.

    finalise.py          solve to the last digits, then all of the below
    kkt_certificate.py   multipliers on active paths that balance at every tip
    rattlers.py          loose flaps moved to where they could grow longer, and by how much
    packing_distance.py  how different two packings are, whichever way they lie
"""
