"""Volume of logs and trees, wood and bark. Prices and grades do not live here."""

from overwood.science.timber.logs import (
    BOARD_RULES,
    doyle_bf,
    huber_ft3,
    international_eighth_bf,
    international_quarter_bf,
    scribner_bf,
    scribner_decimal_c_bf,
    smalian_ft3,
)
from overwood.science.timber.trees import (
    MOST_LOGS,
    TREE_DBH_IN,
    height_ft,
    height_scale,
    merchantable_height_ft,
    tree_bf,
    tree_cords,
    tree_cubic_ft3,
    upper_tapers_in,
)
from overwood.science.timber.wood import (
    bark_thickness_in,
    biomass_dry_lb,
    foot_bark_in,
    green_lb_ft3,
    green_tons_per_cord,
    inside_bark_ratio,
)
