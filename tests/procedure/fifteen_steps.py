"""A procedure of fifteen steps as a lead hand writes it with WRITING.md beside him; the tests break it."""

FIFTEEN = """\
procedure: heron-80-hitch
title: Heron 80 tug, hitch change
revision: 1
defers_to: The maker's manual, local codes and licensed practice come first.
before:
  tools: [torque wrench, hoist]
  parts:
    - {name: hitch, quantity: 1}
steps:
  - id: key-out
    say: Pull the key out.
  - id: chock
    say: Chock both rear wheels.
  - id: hitch-type
    say: Look at the hitch.
    ask:
      choice: hitch
      options:
        pin: [a pin]
        ball: [a ball]
    then: {pin: pin-out, ball: ball-off}
  - id: pin-out
    say: Pull the pin.
    then: support
  - id: ball-off
    say: Unscrew the ball.
  - id: support
    caution: {level: warning, say: "The hitch weighs thirty kilograms. It crushes feet."}
    say: Hang the hitch on the hoist.
  - id: bolt-count
    say: Count the bolts.
    ask: {count: bolts, from: 2, to: 4, read_back: true}
    then: {2: bolts-out, 4: bolts-out, otherwise: call-lead}
  - id: bolts-out
    say: Take out all bolts.
  - id: hitch-off
    say: Lower the old hitch.
  - id: serial
    say: Read the serial number of the new hitch.
    ask: {serial: hitch_serial, pattern: "[A-Z]{2}[0-9]{4}"}
    then: {HA: spacer, otherwise: hitch-on}
  - id: spacer
    say: Fit the spacer.
  - id: hitch-on
    say: Raise the new hitch.
  - id: torque
    say: Torque the bolts.
    ask: {torque: bolt_torque, target: 50 N.m, within: 10 %, fasteners: 4}
  - id: gap
    when: answers.hitch == "ball"
    say: Measure the gap at the ball.
    ask: {measure: ball_gap, unit: mm, at_least: 0.5, at_most: 1.5}
    out_of_limits: torque
    then: end
  - id: call-lead
    say: Call the lead hand.
    ends: lead called
"""
