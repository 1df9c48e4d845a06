"""One file format a module, read with every value checked and written whole or not at all.

In: a path, or a value to be written. Out: a value, or text; a wrong file gets one sentence that
names file, entry and remedy.

    figure_toml, newick               a figure as its designer writes it
    packing_json, grid_json           a packing, on circles or on whole cells
    fold_json                         a crease pattern with its folded form (FOLD specification 1.2)
    compare_files, levels_files       tables of many packings, as JSON and CSV
    guide_json                        a fold guide, for whoever checks it
    figure_record, json_values, table_rows, fold_pattern    what these share
    text, toml_faults, write          reading and writing themselves

These modules know types and never load a search.
"""
