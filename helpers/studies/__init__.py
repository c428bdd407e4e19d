"""Questions asked of the model, and the papers that come of them: data ready to show, print and draw, no widget and no picture.

Where to begin; what belongs to a study lies beside it under the same first word.

    window, cases                what every door bears; the weathers and open doors that a design is asked about
    rules, acting                average, lowest or highest reading; reverse or direct
    hand, flow_ladder, duty      supply air by hand, from there to the network, and what the stated fan gives
    fan_needed, full_speed       the fan that the stair asks for, whatever fan is stated; what full speed does to the doors
    relief_damper                a fan at one speed with a relief damper, at every door
    transmitter_range            which range to buy
    placement                    where the transmitters go, under conditions drawn by chance; placement_table keeps Larkfield House's
    weather, year                hours of weather, and a year of them through the held loop
    tuning, tried_tuning         the fastest tuning that is safe in the whole box, and what helps; one tried quickly enough for a slider
    process_gain, tuning_box     the building's largest gain, searched; the box of lags and dead times that a tuning is tried in
    low_demand                   the threshold of a low-demand stop; low_demand_night plays an evening, a night and a morning
    fallback                     failed, frozen and disagreeing readings: what to fall back on, which alarms tell of it
    injection, commissioning     what displays must show; the fewest signals that prove what was entered
    acceptance, sheets           storey by storey on the day; both as spreadsheets
    review                       somebody else's strategy, a kind of finding a function in review_*
    record                       the design record: a section a function in sections_*, pictures as data in pictures and picture_*
    figures                      figure, finding, table and section, which all of these hand on
    fault_bench                  a loop with one hidden fault

Benches that one lesson each looks up: stair_window, leaky_stair, range_fit, entered_scaling, runaway, steady_loop, rule_faults.
What is kept on this machine: kept_entries, kept_file, whole_files; a site file of one's own: new_site.
"""
