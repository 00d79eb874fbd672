//! What the past adds to a forecast, against closed forms and against draws whose law is known.

use plan::{Calendar, Case, Forecast, Foreseen, Minutes, OpenHours, Slip};

/// Quantile of the standard normal distribution (Abramowitz & Stegun, table 26.1).
const Z90: f64 = 1.281_552;

fn always() -> OpenHours {
    OpenHours::new(&Calendar { open: Vec::new() })
}

/// Two days of eight hours.
fn hours() -> OpenHours {
    OpenHours::new(&Calendar { open: vec![(480, 960), (1920, 2400)] })
}

fn certain(at: Minutes) -> Forecast {
    Forecast { runs: 4_000, jobs: vec![vec![at; 4_000]], starts: Vec::new(), locked: 0 }
}

/// Standard normal draws: sums of twelve uniform ones (the central limit theorem), from a linear congruence (Knuth, TAOCP 2, 3.3.4).
struct Draws(u64);

impl Draws {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

#[test]
fn completions_become_lognormal_about_the_factor() {
    let slip = Slip { count: 50, mean: 0.3, deviation: 0.5 };
    let mut f = certain(1_000);
    f.slip(0, &slip, &always(), 7);
    for (share, z) in [(0.1, -Z90), (0.5, 0.0), (0.9, Z90)] {
        let expected = 1_000.0 * (0.3 + 0.5 * z).exp();
        let found = f.by(0, share).expect("samples") as f64;
        assert!((found / expected - 1.0).abs() < 0.05, "{share}: {found} for {expected}");
    }
    let mut again = certain(1_000);
    again.slip(0, &slip, &always(), 7);
    assert_eq!(f, again);
}

#[test]
fn what_slips_ends_in_open_hours() {
    let (slip, open) = (Slip { count: 50, mean: 0.1, deviation: 0.3 }, hours());
    let mut f = certain(900);
    assert_eq!(open.between(0, 900), 420);
    assert_eq!(open.between(900, 1_980), 60 + 60);
    f.slip(0, &slip, &open, 3);
    assert!(f.jobs[0].is_sorted());
    for &at in &f.jobs[0] {
        let day = at % 1_440;
        assert!((480..=960).contains(&day) || at > 2_400, "{at}");
    }
    // Half of them need 420 · e^0.1 = 464 open minutes.
    assert!((f.by(0, 0.5).expect("samples") - 944).abs() <= 12);
}

#[test]
fn nothing_known_is_a_prior_and_few_cases_change_it_little() {
    let prior = Slip::learn([]);
    assert_eq!((prior, prior.count), (Slip::default(), 0));
    let twice = Case { foreseen: Foreseen { median: 500, variance: 0.0 }, took: 1_000, over: true };
    let one = Slip::learn([twice]);
    assert!(one.count == 1 && one.mean > prior.mean && one.mean < prior.mean + 0.1, "{one:?}");
    let many = Slip::learn(vec![twice; 500]);
    assert!((many.mean - 2f64.ln()).abs() < 0.02 && many.deviation < 0.1, "{many:?}");
    // Only open ones teach nothing yet.
    assert_eq!(Slip::learn([Case { over: false, ..twice }]), prior);
}

/// Draws of a known law, two of five not finished when they are looked at: without those the slow ones would be missing.
#[test]
fn vehicles_still_open_are_not_forgotten() {
    let (mean, deviation, foreseen) = (0.4, 0.5, 0.1f64);
    let mut draws = Draws(11);
    let mut cases = Vec::new();
    for _ in 0..4_000 {
        let said = 2_000.0;
        let x = mean + (deviation * deviation + foreseen).sqrt() * draws.normal();
        let took = (said * x.exp()) as Minutes;
        let looked = (said * (0.2 + 4.0 * draws.uniform())) as Minutes;
        let foreseen = Foreseen { median: said as Minutes, variance: foreseen };
        cases.push(Case { foreseen, took: took.min(looked), over: took <= looked });
    }
    let open = cases.iter().filter(|case| !case.over).count();
    assert!((1_000..2_500).contains(&open), "{open}");
    let found = Slip::learn(cases.iter().copied());
    assert!((found.mean - mean).abs() < 0.03 && (found.deviation - deviation).abs() < 0.04, "{found:?}");
    // The control: finished ones alone look faster than they are.
    let finished = Slip::learn(cases.into_iter().filter(|case| case.over));
    assert!(finished.mean < mean - 0.1, "{finished:?}");
}

#[test]
fn odd_cases_have_defined_answers() {
    let odd = |median, took, over| Case { foreseen: Foreseen { median, variance: 0.0 }, took, over };
    let all =
        [odd(0, 0, true), odd(1, i64::from(i32::MAX), false), odd(500_000, -3, true), odd(1, 1 << 40, false)];
    let slip = Slip::learn(all);
    assert!(slip.mean.is_finite() && slip.deviation.is_finite() && slip.deviation >= 0.0, "{slip:?}");
    let mut f = certain(0);
    f.slip(0, &slip, &always(), 1);
    assert!(f.jobs[0].iter().all(|&at| at >= 0));
}
