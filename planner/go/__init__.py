"""Go or no-go: need and reserve, what-ifs, the worst minute, gauges and margins."""
