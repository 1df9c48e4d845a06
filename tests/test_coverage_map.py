"""Where each module is tested: in the file of its own name, or in one named here."""

from __future__ import annotations

from tests.test_house import MODULES, PACKAGE, ROOT

COVERED_BY = {
    "bounds/branch_and_bound": "bounds/test_upper_bound.py",
    "bounds/classical_rules": "bounds/test_upper_bound.py",
    "bounds/point_spread": "bounds/test_upper_bound.py",
    "bounds/tree_area": "bounds/test_upper_bound.py",
    "bounds/subsets": "bounds/test_subset_proofs.py",
    "bounds/symmetry_breaking": "bounds/test_subset_proofs.py",
    "bounds/work_budget": "bounds/test_subset_proofs.py",
    "cli/options": "cli/test_pack.py",
    "cli/output": "cli/test_pack.py",
    "cli/printing": "cli/test_print.py",
    "creases/tip_layout": "creases/completion/test_filler_insertion.py",
    "creases/completion/borders": "creases/settling/test_settle.py",
    "creases/completion/filler_search": "creases/completion/test_filler_insertion.py",
    "creases/constraints/active_paths": "creases/constraints/test_equations.py",
    "creases/constraints/length_bounds": "creases/constraints/test_equations.py",
    "creases/constraints/convexity": "creases/constraints/test_equations.py",
    "creases/constraints/variables": "creases/constraints/test_equations.py",
    "creases/constraints/linear_program": "creases/settling/test_trial.py",
    "creases/molecules/assembly": "creases/molecules/test_classic_bases.py",
    "creases/settling/close_slack": "creases/settling/test_trial.py",
    "creases/settling/feature_ascent": "creases/settling/test_trial.py",
    "creases/settling/settling_params": "creases/settling/test_trial.py",
    "drawing/figure_drawing": "drawing/test_stick_layout.py",
    "drawing/folded_drawing": "drawing/test_crease_drawing.py",
    "drawing/grid_drawing": "cli/test_grid.py",
    "drawing/notebook": "drawing/plates/test_packing_plate.py",
    "drawing/packing_drawing": "drawing/writers/test_svg.py",
    "drawing/repulsion": "drawing/test_stick_layout.py",
    "drawing/marks/labels": "drawing/test_crease_drawing.py",
    "drawing/marks/styles": "drawing/test_crease_drawing.py",
    "drawing/marks/strokes": "drawing/marks/test_lines.py",
    "drawing/plates/compare_plate": "cli/test_compare.py",
    "drawing/plates/sweep_plot": "cli/test_compare.py",
    "drawing/plates/crease_plate": "drawing/test_crease_drawing.py",
    "drawing/plates/grid_plate": "cli/test_grid.py",
    "drawing/writers/dxf": "drawing/writers/test_plotter.py",
    "drawing/writers/html": "report/test_html_report.py",
    "drawing/writers/page_marks": "drawing/writers/test_tiled_pdf.py",
    "drawing/writers/png": "drawing/plates/test_packing_plate.py",
    "errors": "cli/test_bad_input.py",
    "notebook": "drawing/plates/test_packing_plate.py",
    "numbers": "cli/test_bad_input.py",
    "units": "creases/completion/test_complete.py",
    "version": "files/test_fold_json.py",
    "files/compare_files": "cli/test_compare.py",
    "files/figure_record": "files/test_figure_toml.py",
    "files/grid_json": "cli/test_grid.py",
    "files/json_values": "cli/test_wrong_files.py",
    "files/text": "cli/test_wrong_files.py",
    "folded/checks": "folded/test_form.py",
    "folded/overlaps": "folded/test_form.py",
    "folded/readback": "folded/test_form.py",
    "folded/order_search": "folded/test_layers.py",
    "folded/parity": "folded/test_layers.py",
    "folded/question": "folded/test_layers.py",
    "grid/bands": "grid/test_grid_creases.py",
    "grid/contours": "grid/test_grid_creases.py",
    "grid/board": "grid/test_lower_bounds.py",
    "grid/cp_sat": "grid/test_lower_bounds.py",
    "grid/milp": "grid/test_lower_bounds.py",
    "grid/greedy": "grid/test_lower_bounds.py",
    "grid/relations": "grid/test_lower_bounds.py",
    "grid/grid_cost": "planning/test_grid_column.py",
    "grid/grid_packing": "grid/test_pack_grid.py",
    "grid/grid_problem": "grid/test_pack_grid.py",
    "grid/neighbourhood_search": "grid/test_pack_grid.py",
    "grid/grid_params": "grid/test_pack_grid.py",
    "grid/slack": "grid/test_pack_grid.py",
    "grid/proposals": "grid/test_rounding.py",
    "local_solver/flexible_lengths": "local_solver/test_newton_steps.py",
    "local_solver/normal_equations": "local_solver/test_newton_steps.py",
    "local_solver/working_set": "local_solver/test_newton_steps.py",
    "local_solver/solver": "search/memetic/test_preselection.py",
    "model/side_names": "search/result/test_packing_distance.py",
    "planning/comparison": "planning/test_compare.py",
    "planning/shapes": "planning/test_compare.py",
    "planning/timed_searches": "planning/test_compare.py",
    "planning/fold_ranking": "planning/test_ranking.py",
    "planning/layer_estimate": "planning/test_plan.py",
    "planning/stock": "planning/test_paper.py",
    "report/compare_table": "cli/test_compare.py",
    "report/grid_table": "cli/test_grid.py",
    "report/packing_table": "report/test_html_report.py",
    "report/report_page": "report/test_html_report.py",
    "report/sections": "report/test_html_report.py",
    "report/plan_table": "cli/test_plan.py",
    "search/carry": "planning/test_sweep.py",
    "search/warm_start": "search/test_pack.py",
    "search/memetic/run": "search/test_pack.py",
    "search/parallel/background_bound": "search/test_pack.py",
    "search/parallel/coordinator": "search/test_pack.py",
    "search/parallel/executors": "search/test_pack.py",
    "search/parallel/threads": "search/test_pack.py",
    "search/result/finalise": "search/test_pack.py",
    "sketch/captions": "sketch/test_stick_tree.py",
    "sketch/joints": "sketch/test_stick_tree.py",
    "sketch/marked_copy": "sketch/test_stick_tree.py",
    "sketch/mirror": "sketch/test_stick_tree.py",
    "sketch/faults": "sketch/test_stick_tree.py",
    "sketch/css": "sketch/test_svg_reader.py",
    "sketch/polylines": "sketch/test_svg_paths.py",
    "sketch/svg_view": "sketch/test_svg_paths.py",
}
"""For a module without a test file of its own name, the file that covers it most."""


def own_test(module):
    """The test file of the same name as a module, in the same room."""
    return ROOT / "tests" / module.parent / f"test_{module.name}.py"


def test_every_module_has_a_test_file_or_is_named_above():
    modules = [
        path.relative_to(PACKAGE).with_suffix("")
        for path in MODULES
        if not path.stem.startswith("__")
    ]
    without = {str(module) for module in modules if not own_test(module).exists()}
    assert without - COVERED_BY.keys() == set()


def test_the_files_named_above_are_there_and_needed():
    for module, test in COVERED_BY.items():
        assert (ROOT / "tests" / test).exists(), test
        path = PACKAGE / module
        if path.with_suffix(".py").exists():  # else it has moved on, and its line is to go
            assert not own_test(path.relative_to(PACKAGE)).exists(), module
