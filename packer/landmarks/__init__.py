"""Landmarks: marks and lines made by folding alone, and the order of pre-creasing.

In: the points at which tips lie, and how near a mark must come; or a crease pattern. Out: a
sequence of creases with its marks; the levels of pre-creasing; a fold guide of both.

    beam := the bare sheet                                            (search)
    until every tip has a mark, or no sequence gets any further
        for each sequence of the beam
            all creases that one of the seven alignments makes from its lines and marks
                (Huzita 1989; Justin 1989; Hatori 2001)               (alignments, creases)
            worth of each: marks at tips, lines through tips, less where it is awkward or unsure
        beam := the best of all, with their mirror images where tips are mirrored    (mirror)

    level of a crease := one more than that of what it rests on       (precrease)
    parts of a grid by halving and crossing diagonals                 (division)
    pleats of the folded base, layer by layer                         (pleating)
    a guide, and in short what its file says of it                    (fold_guide, guide_brief)

Errors: each step is folded exactly and with each miss of the hand; they add as squares.
"""
