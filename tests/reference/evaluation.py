"""All results of a folder, family by family, on one chain."""
from correction import correction
from families import Results, angular, comparison, darks, field_maps, positions, warm_up, window, window_changes
from illuminance import Bench
from light import low_light, ripple
from series import samples, spectra
from sources import source_variation
from surroundings import near_infrared, temperature


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
    window_changes(bench, results)
    warm_up(bench, results)
    low_light(bench, results, points)
    temperature(bench, results, points)
    near_infrared(bench, results)
    ripple(bench, results)
    samples(bench, results, points)
    spectra(bench, results)
    correction(bench, results)
    return results
