"""The drawings: what is known of a room, put on paper as SVG.

`plan_sheet` and `plan_small` draw a `PlanView`; `pieces` holds the small drawings of the dossier.
Everything is laid out in millimetres on paper, y downwards, recorded once and rendered by a
back end.
"""
