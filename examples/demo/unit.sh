# shellcheck shell=sh disable=SC2034
# The demo unit, as a technician meets it: what stands on it and what the tape and gauges said.
# Invented: no such trailer exists. tools/demo reads this file; readings of gaps are in the lists beside it.

vin_on_plate=DZ9FH4T81R1000358
vin_as_typed=DZ9FH4T81R10003S8          # a 5 read as S

label_fore='WD40 2024-W13'              # on the fore column
label_aft='WD40 2024-W20'               # on the aft column: another week, another answer

relief=upper                            # of the old racks of the fore column
length_inboard='1203.5 mm'
length_outboard_first='1212 mm'         # the tape hung on the relief
length_outboard_again='1204 mm'

end_inboard='41.20 mm'
end_outboard_first='47.55 mm'           # went on one tooth late
end_outboard_again='41.30 mm'

# A second unit, of the other bulletin: a ramp on two hinges.
ramp_vin=DZ9LR4R80S1000042
ramp_label_left='LR48 074/2025'
ramp_label_right='LR48 Mar 2025'
ramp_pin=under
