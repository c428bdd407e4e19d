"""The letters of the workbook: what each name of the program is called on paper, in words, and its unit.

A name of the program that means two things has two underlines and a word behind it: `gain__process` is the `gain` of the building.
A letter may have a prime, and after an underline what stands below the line.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Symbol:
    """A letter, what it stands for, and its unit ("1" for none)."""

    letter: str
    words: str
    unit: str


_TABLE = """
dp_pa                   | Δp      | pressure difference | Pa
force_n                 | F       | force at the handle | N
closer_force_n          | F_c     | force for the closer alone | N
force_limit_n           | F_max   | most force allowed at the handle | N
push_n                  | P       | push of the air on the leaf | N
moment_nm               | M       | moment of the air about the hinges | N m
width_m                 | b       | width of the leaf | m
height_m                | h       | height of the leaf | m
handle_to_edge_m        | d       | handle to latch edge | m
x_m                     | x       | distance from the hinges | m
pressure_lost           | Δp_1    | pressure lost for each newton of the closer | Pa/N
stack_gradient_pa_m     | γ       | stack effect for each metre of height | Pa/m
column_pa_m             | w       | weight of a column of air for each metre | Pa/m
gravity                 | g       | acceleration of gravity | m/s²
gas_constant            | R       | gas constant of dry air | J/(kg K)
pressure_pa             | p       | pressure of the air (absolute) | Pa
density_kg_m3           | ρ       | density of the air | kg/m³
temp_k                  | T       | temperature in kelvin | K
temp_out_k              | T_out   | outdoors, in kelvin | K
temp_in_k               | T_in    | indoors, in kelvin | K
temp_out_c              | t_out   | outdoors | °C
temp_in_c               | t_in    | indoors | °C
flow_m3_s               | q_V     | flow | m³/s
flow_m3_s__storey       | q_1     | flow of one storey | m³/s
discharge_coefficient   | C_d     | discharge coefficient | 1
area_m2                 | A       | area of the gap, or of both as one | m²
area_1_m2               | A_1     | area of the first gap | m²
area_2_m2               | A_2     | area of the second gap | m²
speed_m_s               | v       | speed of the air | m/s
area_stair_building_m2  | A_sb    | gaps from stair to building, one storey | m²
leakage_stair_building_m2 | A_sb  | gaps from stair to building, one storey | m²
area_building_outside_m2 | A_bo   | gaps from building to outdoors, one storey | m²
dp_pa__door             | Δp_sb   | across the stair door | Pa
dp_pa__wall             | Δp_bo   | across the outer wall | Pa
ratio                   | φ       | ratio of the two areas | 1
door_share              | a       | the door's share | 1
dp_bottom_pa            | Δp_b    | across the bottom door | Pa
dp_top_pa               | Δp_t    | across the top door | Pa
height_m__stair         | H       | height between the two | m
storeys                 | N       | number of storeys | 1
mean_root               | r       | mean of the root of the pressure | √Pa
signal_value            | x       | signal | mA
signal_low              | x_0     | bottom of the signal | mA
signal_high             | x_100   | top of the signal | mA
value                   | p       | pressure | Pa
range_low               | p_0     | bottom of the range | Pa
range_high              | p_100   | top of the range | Pa
span_share              | s       | share of the span | 1
slope                   | m       | pressure for each mA | Pa/mA
start                   | c       | pressure at no signal | Pa
slope__signal           | m_x     | signal for each pascal | mA/Pa
resistor_ohm            | R       | resistor across the input | Ω
bits                    | n       | bits of the converter | 1
signal_step             | δx      | one step of the signal | mA
step_pa                 | δp      | one step in pressure | Pa
span_pa                 | S       | span of the range | Pa
gain_error              | g       | error of the gain | 1
zero_error              | z       | shift of the zero | 1
rounding                | q       | rounding | 1
u_gain                  | u_g     | how far the gain may be off | 1
u_zero                  | u_z     | how far the zero may be off | 1
u_rounding              | u_q     | how far rounding may be off | 1
u_1                     | u_1     | from the gain | Pa
u_2                     | u_2     | from the zero | Pa
u_3                     | u_3     | from rounding | Pa
u_all                   | u       | all together | Pa
shown                   | p′      | what the display shows | Pa
entered_low             | p′_0    | bottom entered | Pa
entered_high            | p′_100  | top entered | Pa
entered_signal_low      | x′_0    | bottom of the signal entered | mA
entered_signal_high     | x′_100  | top of the signal entered | mA
signal_at_zero          | x_z     | signal where no pressure is | mA
gain__entry             | m       | display for each pascal | 1
offset                  | c       | display where no pressure is | Pa
set_point               | p_set   | set point | Pa
loop_sign               | L       | sign once round the loop | 1
fan_effect              | f       | effect of more speed on the reading (up +1, down −1) | 1
action                  | a       | action (reverse −1, direct +1) | 1
process_gain            | K       | reading for each per cent of speed | %/%
gain                    | K_c     | gain of the controller | %/%
integral_s              | T_i     | integral time | s
integral_s__least       | T_least | least integral time that does not swing | s
reading_percent         | y       | reading, from where it stood | %
error_percent           | e       | error | %
output_percent          | u       | output, from where it stood | %
rate_per_s              | r       | rate at which an error grows | 1/s
height_1                | z_1     | height of the first transmitter | m
height_2                | z_2     | height of the second | m
height_held             | z       | height of the storey that is held | m
height_door             | z_d     | height of another door | m
weight_1                | w_1     | weight of the first reading | 1
weight_2                | w_2     | weight of the second | 1
dp_ground               | Δp_0    | at height zero | Pa
dp_1                    | Δp_1    | at the first transmitter | Pa
dp_2                    | Δp_2    | at the second | Pa
average                 | p_m     | average the loop holds | Pa
dp_off                  | δ       | that door less the average | Pa
dp_least                | Δp_least | least across any door | Pa
dp_most                 | Δp_most | most across any door | Pa
wrong_reading           | p_w     | the wrong reading | Pa
share                   | a       | its share in the average | 1
rest                    | p_r     | what the good ones read | Pa
area_low_m2             | A_low   | lower opening | m²
area_high_m2            | A_high  | upper opening | m²
dp_low                  | Δp_low  | across the lower opening | Pa
dp_high                 | Δp_high | across the upper opening | Pa
distance_m              | H       | from one opening up to the other | m
height_m__plane         | h       | neutral plane above the lower opening | m
density_out             | ρ_out   | density outdoors | kg/m³
density_in              | ρ_in    | density indoors | kg/m³
successes               | k       | how many came out well | 1
trials                  | n       | of how many | 1
z                       | z       | how sure (1.96 for 95 %) | 1
share__seen             | p       | share seen | 1
share__true             | π       | a true share | 1
centre                  | c       | centre | 1
half_width              | w       | half width | 1
divisor                 | d       | divisor | 1
share__low              | p_low   | lower end | 1
share__high             | p_high  | upper end | 1
gain__process           | K       | gain of the process | %/%
lag_s                   | T       | lag of the process | s
lag_1                   | T_1     | longer lag | s
lag_2                   | T_2     | shorter lag | s
delay_s                 | θ       | delay of the process | s
closed_loop_s           | τ_c     | lag wanted of the closed loop | s
swing                   | s       | of a swing, in the transform of Laplace | 1/s
of_process              | G       | answer of the process | 1
of_wanted               | W       | answer wanted | 1
of_controller           | C       | answer of the controller | 1
old_span                | S       | old span | Pa
new_span                | S′      | new span | Pa
output_span             | S_out   | span of the output | Hz
gain__entered           | K′_c    | gain to enter for the new span | %/%
strength                | k       | what the building feels | Hz/Pa
pressure_pa__asked      | p       | pressure asked for | Pa
shutoff_pressure_pa     | p_max   | shut-off pressure at full speed | Pa
speed                   | n       | speed of the fan | Hz
full_speed              | n_max   | full speed | Hz
speed_ratio             | r       | share of full speed | 1
wheel_factor            | c       | the wheel's own factor | 1
wheel_radius            | R       | radius of the wheel | m
store_m3                | V       | store | m³
demand_m3_s             | q_out   | demand | m³/s
source_m3_s             | q_in    | what the source gives | m³/s
fill_s                  | t_fill  | time to fill the store | s
empty_s                 | t_empty | time to empty it | s
cycle_s                 | t       | from one start to the next | s
seconds_an_hour         | 3600    | seconds in an hour | s/h
starts_per_hour         | N       | starts an hour | 1/h
most_per_hour           | N_max   | most starts an hour | 1/h
inertia_kg_m2           | J       | inertia at the motor's shaft | kg m²
inertia_lb_ft2          | J_t     | the same in the table's unit | lb ft²
column_b                | B       | starts an hour times inertia | lb ft²/h
"""

SYMBOLS = {name: Symbol(*parts) for name, *parts in (tuple(map(str.strip, line.split("|"))) for line in _TABLE.split("\n") if line)}
