"""A stick figure read from an SVG drawing of any vector editor.

In: an SVG file. Out: a `Figure`, and notes on what was read.

    parse the document within a budget of elements and points     (svg_reader, svg_view, budget)
    leave out what cannot be seen                                 (css)
    strokes as polylines fine enough to be measured               (svg_paths, polylines)
    join ends that meet, ends on middles and, if asked, crossings (joints)
    refuse loops, loose pieces and doubled strokes, by name and place    (faults)
    mirror line: match the tree with its own image from every joint on a line, bottom up (mirror)
    names from layers and captions, else from where a part lies   (captions)
    lengths scaled, pairs and directions written down             (stick_tree)

`marked_copy` draws what was read into the drawing, or what kept it from being read.
"""
