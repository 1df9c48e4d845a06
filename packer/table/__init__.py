"""The table: a page in the browser on which a figure is drawn and pulled while its packing follows.

In: what a designer draws and pulls. Out: frames of the packing, kept variants, files of a project.

    page -> messages -> session -> replies -> page

    server, security           one page and its websocket, for this machine alone
    messages, message_queue    what the page may ask for, each checked; of a pull only the newest
    session, state, wall       what lies on the table, what one change makes of it, what is kept
    draft, edits, changes      the drawing while it need not be a figure yet
    replies, figure_layout     what the page is told
    offers, child_process      better layouts, searched for in a process beside the server
    project, folder, actions   what is saved, where, and the commands that lead on
    opening, sketch_layout     what is put on the table first

Its layout is our own; the solve of a frame is `packer.search.frame`.
"""
