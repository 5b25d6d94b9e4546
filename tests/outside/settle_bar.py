"""The bar that settling must meet on the public corpus, from score.py's JSON."""
import json
import sys

score = json.load(open(sys.argv[1]))
bad = []


def bar(name, value, most):
    print("%-28s %.3f (at most %.3f)" % (name, value, most))
    if value > most:
        bad.append(name)


steady, hold, clean = score["ALL settle"], score["ALL hold"], score["clean"]
bar("false, traces", steady["false_traces"], 0)
bar("missed, % of contacts", 100 * steady["miss_rate"], 1)
bar("doubles, traces", steady["double_traces"] + hold["double_traces"], 0)
bar("value error p95, counts", steady["err_counts_p95"], 1)
bar("delay p50, s", steady["delay_p50"], 2.5)
bar("delay p50 on clean contacts, s", clean["delay_p50"], 2.0)
bar("delay p95, s", steady["delay_p95"], 6)
bar("holds false, traces", hold["false_traces"], 0)
bar("holds missed", hold["missed"], 0)
bar("aborts missed", hold["abort_missed"], 0)
if bad:
    sys.exit("above the bar: " + ", ".join(bad))
