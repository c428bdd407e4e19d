"""Questions asked of the model: data ready to show, print and draw, no widget and no picture.

cases, status, report    the weathers and open doors that a design is asked about; a limit's status; figure, finding, table, section
doors                    what every door bears: window, forces, air through open ones, a stair that cools, a year
duty                     supply air by hand, from there to the network; the stated fan, the fan needed, full speed, a relief damper
signals                  which range to buy, what is entered for it, reverse or direct, where a wrong loop ends
readings                 average, lowest or highest; failed, frozen and disagreeing readings, and which alarms tell of them
placement                where the transmitters go, under conditions drawn by chance
tuning                   the fastest tuning that is safe in the whole box of lags and delays, and what helps
low_demand               the threshold of a low-demand stop; an evening, a night and a morning
commissioning            what displays must show, the fewest signals that prove it, doors and plant on the day, spreadsheets
measured                 what measured data say: a trend log and its step test; the building fitted to its test day
sensitivity              what would change the answer
"""
