"""Bad and odd inputs by kinds: each kind makes as many different ones as it is asked for."""

from tests.fuzz.kinds.briefs import (
    absurd_bound,
    against_itself,
    broken_toml,
    misspelt,
    outsized_toml,
    wrong_type,
)
from tests.fuzz.kinds.case import Case, Make
from tests.fuzz.kinds.formulas import (
    bad_answer,
    bad_formula,
    bad_list,
    bad_plan,
    many_faults,
    one_bad_product,
    rank_of_csv,
)
from tests.fuzz.kinds.libraries import law_slip, library_rule, library_slip, strong_ion
from tests.fuzz.kinds.unreadable import (
    impossible_argument,
    impossible_name,
    many_rows,
    no_file,
    not_utf8,
    random_bytes,
    too_large,
)
from tests.fuzz.kinds.words import absurd_option, any_title, misspelt_option, steering_titles
from tests.fuzz.kinds.workbooks import workbook

KINDS: tuple[Make, ...] = (
    no_file,
    impossible_name,
    impossible_argument,
    too_large,
    many_rows,
    random_bytes,
    not_utf8,
    workbook,
    outsized_toml,
    broken_toml,
    wrong_type,
    misspelt,
    against_itself,
    absurd_bound,
    library_slip,
    strong_ion,
    law_slip,
    library_rule,
    bad_formula,
    bad_list,
    bad_answer,
    rank_of_csv,
    bad_plan,
    many_faults,
    one_bad_product,
    misspelt_option,
    absurd_option,
    any_title,
    steering_titles,
)

__all__ = ["KINDS", "Case", "Make"]
