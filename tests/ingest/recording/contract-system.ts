/** The example of contract section 3, verbatim. */
export const contractSystem = `stillhold: 1
name: high-wing floatplane, both wings
channels:
  - id: p-left
    measures: gauge-pressure        # or absolute-pressure, temperature, barometric-pressure
    section: left-feed              # barometric-pressure has no section
    from: { measurement: logger, field: p1, tags: { port: a } }   # tags optional
    unit: psi
    range: 0 psi to 30 psi          # the transducer's span; readings at either end count as clipped
    resolution: 0.007 psi           # optional, estimated from the data if absent
    accuracy: 0.25 % of span        # optional
    calibration: { date: 2026-03-02, points: [[0 psi, 0.02 psi], [30 psi, 29.95 psi]] }  # [true, read]; optional
  - id: t-left
    measures: temperature
    section: left-feed
    from: { measurement: logger, field: t1 }
    unit: degC
  - id: baro
    measures: barometric-pressure
    from: { measurement: logger, field: baro }
    unit: hPa
sections:
  - id: left-feed
    medium: air                     # air, nitrogen, avgas, mogas, jet-a
    volume: 0.35 L ± 10 %
    max-pressure: 15 psi
    stretch: 0 % per bar            # optional: how much the volume grows with pressure
fittings:
  - { id: F07, section: left-feed, kind: flare, size: -6, name: selector inlet, torque: 14 N·m }
valves:
  - { id: V2, between: [left-feed, firewall-forward], name: selector }
holds:
  - id: left-feed-10psi
    sections: [left-feed]
    shut: [V2]
    pressure: 10 psi
    settle: 2 min
    hold: 10 min
    allow: { drop: 0.1 psi }        # over the hold time, temperature-compensated; or { leak: 0.2 scc/min }
`
