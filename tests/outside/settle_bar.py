"""The bar that settling must meet on the public corpus, from score.py's JSON."""
import json
import sys

score = json.load(open(sys.argv[1]))
bad = []


def bar(name, value, most):
    print("%-28s %.3f (at most %.3f)" % (name, value, most))
    if value > most:
        bad.append(name)


steady, hold = score["ALL settle"], score["ALL hold"]
bar("false, % of traces", 100 * steady["false_rate"], 1)
bar("missed, % of contacts", 100 * steady["miss_rate"], 3)
bar("doubles, traces", steady["double_traces"] + hold["double_traces"], 0)
bar("holds false, % of traces", 100 * hold["false_rate"], 1)
if bad:
    sys.exit("above the bar: " + ", ".join(bad))
