# the ground: read it, and what its files say of names, areas and paths
from .ground.raster.read import read_dem as read_dem
from .ground.raster.parts import read_parts as read_parts
from .ground.raster.parts import plan_parts as plan_parts
from .ground.raster.parts import PartsPlan as PartsPlan
from .ground.raster.planned import PlannedPart as PlannedPart
from .ground.raster.planned import GroundPart as GroundPart
from .ground.raster.cuts import Cells as Cells
from .ground.dem import Dem as Dem
from .ground.grid import Grid as Grid
from .ground.accuracy import Accuracy as Accuracy
from .ground.features import read_names as read_names
from .ground.features import read_areas as read_areas
from .ground.features import read_paths as read_paths

# the ground from afar, once, into a cache
from .fetch.bring import fetch_ground as fetch_ground
from .fetch.bring import Brought as Brought
from .fetch.check import check_ground as check_ground
from .fetch.check import GroundCheck as GroundCheck
from .show.chart.coverage import coverage_figure as coverage_figure

# places: where the camera stands, and what it looks at
from .ground.places import Spot as Spot
from .ground.places import Hill as Hill
from .ground.relief.summits import hill_at as hill_at
from .ground.relief.summits import hill_named as hill_named
from .ground.relief.summits import find_summits as find_summits
from .ground.relief.beside import top_beside as top_beside

# a country, which keeps what is worked out from its ground, and a hill in it
from .country import Country as Country
from .view.scene import Scene as Scene
from .ground.relief.water import level_water as level_water

# mist: where it lies, what stands above it, where it pours
from .mist.mist import Mist as Mist
from .mist.level import level_mist as level_mist
from .mist.valley import valley_mist as valley_mist
from .mist.level import MistRange as MistRange
from .mist.level import mist_range as mist_range
from .mist.flood import flood_levels as flood_levels
from .mist.islands import islands as islands
from .mist.mist import clear_hollows as clear_hollows
from .mist.foremost import foremost_passes as foremost_passes
from .mist.passes import passes as passes
from .mist.pouring import pouring as pouring
from .mist.pouring import pouring_paths as pouring_paths
from .mist.sweep import MistSweep as MistSweep
from .mist.sweep import mist_sweep as mist_sweep

# what height of mist to try
from .air.sounding import Sounding as Sounding
from .air.sounding import read_sounding as read_sounding
from .air.inversion import inversions as inversions
from .air.suggestion import MistSuggestion as MistSuggestion
from .air.suggestion import suggest_mist_top as suggest_mist_top
from .air.thermometers import suggest_from_two_thermometers as suggest_from_two_thermometers

# sight: what is seen, what makes the skyline, and how far the ground is known
from .sight.viewshed import viewshed as viewshed
from .sight.line import sight_line as sight_line
from .sight.line import profile as profile
from .sight.skyline import Skyline as Skyline
from .sight.skyline import skyline as skyline
from .sight.horizon import horizon as horizon
from .sight.known import known_to as known_to
from .sight.known import known_between as known_between
from .sight.left_out import LeftOut as LeftOut
from .sight.left_out import left_out as left_out
from .sight.farther import with_far_ground as with_far_ground

# the sun
from .sun.position import SunPosition as SunPosition
from .sun.position import sun_position as sun_position
from .sun.path import sun_path as sun_path
from .sun.twilight import Twilight as Twilight
from .sun.twilight import twilight as twilight

# the light of the air: the sky, the sun through it, the haze, and a picture's colours
from .glow.air import ClearAir as ClearAir
from .glow.sky import Sky as Sky
from .glow.sky import sky as sky
from .glow.sky import sky_radiance as sky_radiance
from .glow.sunlight import sunlight as sunlight
from .glow.disc import sun_disc as sun_disc
from .glow.sky import skylight as skylight
from .glow.haze import Haze as Haze
from .glow.haze import haze as haze
from .glow.develop import develop as develop

# one spot and one hill: is the sunrise behind it, and when
from .view.backdrop import Backdrop as Backdrop
from .view.look import View as View
from .view.look import look as look
from .view.picture import Picture as Picture
from .view.picture import picture as picture
from .view.small_scenes import shallows_in_view as shallows_in_view
from .view.contact import Contact as Contact
from .view.contact import sun_contact as sun_contact
from .view.passage import Nearest as Nearest
from .view.passage import Showing as Showing
from .view.passage import sun_passage as sun_passage
from .view.facing import SunPose as SunPose
from .view.states import SunStand as SunStand
from .view.states import SunSpell as SunSpell
from .view.states import sun_stand as sun_stand
from .view.states import sun_spells as sun_spells
from .view.backlight import Backlight as Backlight
from .view.nearness import BestAt as BestAt
from .view.backlight import backlight as backlight
from .view.backlight import check_backlight as check_backlight
from .view.dates import backlit_dates as backlit_dates
from .view.shown import Shown as Shown
from .view.shown import hill_shown as hill_shown

# where to stand: on a day, in a year, in a season
from .vantage.find import find_vantages as find_vantages
from .vantage.season import plan_season as plan_season
from .vantage.pairs import backlit_pairs as backlit_pairs
from .vantage.find import choose_vantage as choose_vantage
from .vantage.limits import Limits as Limits
from .vantage.access import Access as Access
from .year.atlas import backlight_atlas as backlight_atlas
from .year.atlas import Atlas as Atlas

# surveys: every hill of a country with its vantages and dates, tile by tile
from .surveying.survey import survey as survey
from .surveying.survey import Survey as Survey
from .surveying.survey import survey_summits as survey_summits
from .surveying.survey_rasters import survey_rasters as survey_rasters
from .surveying.survey_rasters import SurveyedRasters as SurveyedRasters
from .surveying.rasters import LightOfDay as LightOfDay
from .surveying.rasters import HillsOfDay as HillsOfDay
from .surveying.question import SurveyQuestion as SurveyQuestion
from .surveying.workers import Workers as Workers

# where the light falls
from .light.arrival import Arrival as Arrival
from .light.day import light_arrival as light_arrival
from .light.day import DayAtlas as DayAtlas
from .light.day import day_atlas as day_atlas
from .light.valleys import Valley as Valley
from .light.valleys import valleys_in as valleys_in
from .light.valleys import valley_about as valley_about
from .light.shares import valley_shares as valley_shares
from .light.shares import valley_times as valley_times
from .light.colour import WarmLight as WarmLight
from .light.colour import warm_light as warm_light
from .light.standing.stand import stand_behind as stand_behind
from .light.standing.stand import edge_of_light as edge_of_light
from .light.standing.hide import hide_track as hide_track

# the walk
from .walk.walk import Walk as Walk
from .walk.walk import walk_in as walk_in
from .walk.reach import walks_from as walks_from
from .walk.pace import tobler as tobler
from .walk.pace import naismith as naismith
from .walk.pace import langmuir as langmuir
from .walk.pace import din_33466 as din_33466

# the frame
from .frame.lens import Sensor as Sensor
from .frame.lens import Kit as Kit
from .frame.long_lens import small_scenes as small_scenes
from .frame.framing import Framing as Framing
from .frame.framing import frame_view as frame_view
from .frame.figure import figure_at as figure_at
from .frame.figure import step_for as step_for

# the plan of a morning or an evening
from .plan.morning import Plan as Plan
from .plan.morning import plan_morning as plan_morning
from .plan.good_days import good_days as good_days
from .plan.cautions import Air as Air

# pictures
from .show.map.map import map_figure as map_figure
from .show.map.contents import MapContents as MapContents
from .show.map.vantages import vantages_map as vantages_map
from .show.view.small_views import small_views as small_views
from .show.map.mist_maps import islands_map as islands_map
from .show.map.mist_maps import passes_map as passes_map
from .show.map.year_atlas import atlas_figure as atlas_figure
from .show.map.lit_ground import LitGround as LitGround
from .show.map.light import light_map_figure as light_map_figure
from .show.map.light_moment import light_frame as light_frame
from .show.view.panorama import view_figure as view_figure
from .show.view.strip import save_strip as save_strip
from .show.view.skyline import skyline_figure as skyline_figure
from .show.chart.season import season_figure as season_figure
from .show.chart.rising_mist import sweep_figure as sweep_figure
from .show.map.country import survey_figure as survey_figure

# files
from .show.files.export import save_picture as save_picture
from .show.files.export import save_table as save_table
from .show.files.export import save_layers as save_layers
from .show.files.raster import save_raster as save_raster
from .show.files.export import skyline_table as skyline_table
from .show.files.exchange import save_gpx as save_gpx
from .show.files.exchange import save_kml as save_kml
from .show.files.calendar import save_calendar as save_calendar
from .show.files.exchange import save_plan_table as save_plan_table
from .show.sheet.sheet import save_sheet as save_sheet

# what a user is told where there is no answer
from .errors import TerrainError as TerrainError
from .errors import NoGround as NoGround
from .errors import NoSun as NoSun
from .errors import NoAnswer as NoAnswer
