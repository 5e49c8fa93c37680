"""All results of a folder, family by family, on one chain."""
from families import Results, angular, comparison, darks, field_maps, positions, warm_up, window
from illuminance import Bench
from sources import source_variation


def evaluate(folder_header, runs, chain):
    bench = Bench(chain, folder_header, runs)
    results = Results(chain)
    darks(bench, results)
    positions(bench, results)
    field_maps(bench, results)
    points = comparison(bench, results)
    source_variation(bench, results, points)
    window(bench, results, points)
    angular(bench, results)
    warm_up(bench, results)
    return results
