//! A wish: orders ranked by how near their pictures come to a goal.

use std::cmp::Ordering;

use super::pieces::Frames;
use super::{Goal, Rendered};
use crate::base::picture::Picture;
use crate::base::words::words;
use crate::gpu::{Against, Asked, Budget, GpuError, Renderer};

words! {
    /// What counts of several pieces of footage, or of several moments.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    pub enum By {
        #[default]
        Mean = "mean",
        Worst = "worst",
    }
}

impl Goal {
    /// Figures as they are compared: the smaller is the nearer to the goal.
    fn far(self, figure: f64) -> f64 {
        if self.is_least() { figure } else { -figure }
    }

    /// The figure of every order at each moment of what was rendered. Differences are measured on whole pictures; traits
    /// at the size at which looks are told apart.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn figures(
        self,
        renderer: &mut Renderer,
        frames: &Frames,
        rendered: &Rendered,
        like: Option<&Picture>,
        budget: Budget,
    ) -> Result<Vec<Vec<f64>>, GpuError> {
        let against = match (self, like) {
            (Self::MostChanged | Self::LeastChanged, _) => Some(Against::Order(&[])),
            (Self::Like, Some(picture)) => Some(Against::Picture(picture)),
            _ => None,
        };
        let first = match (frames, against) {
            (Frames::Stretch(stretch), Some(against)) => {
                return stretch.means_from(rendered.orders(), renderer, against, budget);
            }
            (Frames::Moment(path), Some(against)) => {
                let asked = Asked { against: Some(against), budget, ..Asked::default() };
                let tree = rendered.orders().tree();
                let (finished, _) = renderer.explore(path, &tree, &asked, |_| {})?;
                return Ok(vec![finished.iter().map(|f| f.difference.map_or(0.0, |d| d.mean)).collect()]);
            }
            (Frames::Stretch(stretch), None) => stretch.first_shown_alike(),
            (Frames::Moment(_), None) => vec![0],
        };
        let (mut found, mut hung): (Vec<Vec<f64>>, _) = (Vec::with_capacity(first.len()), 0);
        for (moment, first) in first.into_iter().enumerate() {
            if first < moment {
                found.push(found[first].clone());
                continue;
            }
            found.push(rendered.hung(renderer, hung)?.iter().map(|picture| self.trait_of(picture)).collect());
            hung += 1;
        }
        Ok(found)
    }
}

/// Digits after the point of a figure, as few and as many as there may be.
const LEAST_DIGITS: usize = 3;
const MOST_DIGITS: usize = 6;

/// What orders are judged on: a piece of footage, or a moment of one.
#[derive(Debug)]
pub struct Ground {
    pub name: String,
    /// For each class, its figure.
    pub values: Vec<f64>,
}

/// Every order's figures and rank.
#[derive(Debug)]
pub struct Wish {
    pub goal: Goal,
    pub by: By,
    grounds: Vec<Ground>,
    /// For each class, the mean of its figures.
    pub values: Vec<f64>,
    /// For each class, the figure that is furthest from the goal, and on which ground.
    pub worst: Vec<(f64, usize)>,
    /// The classes, the nearest to the goal first.
    pub order: Vec<usize>,
    /// For each class, its rank.
    ranks: Vec<usize>,
    /// Digits after the point of a figure.
    digits: usize,
}

/// What a piece of footage has of the order that is best for all.
#[derive(Debug)]
pub struct Gain {
    /// The class that is best on it.
    pub own: usize,
    /// What is gained by that.
    pub gain: f64,
    /// That, of all that order can do for the wish there: 0 where the order for all is best there too, 1 where it is
    /// worst.
    pub disagrees: f64,
    /// The rank of the order for all there.
    pub rank: usize,
}

/// Digits after the point that tell neighbours of ranked figures apart, where they are not equal.
fn digits(ranked: &[f64]) -> usize {
    let tells = |digits: usize| {
        let mut unlike = ranked.windows(2).filter(|pair| pair[0] != pair[1]);
        unlike.all(|pair| format!("{:.digits$}", pair[0]) != format!("{:.digits$}", pair[1]))
    };
    (LEAST_DIGITS..MOST_DIGITS).find(|&digits| tells(digits)).unwrap_or(MOST_DIGITS)
}

/// The mean of several rows of figures, figure by figure.
pub fn mean_of(rows: &[Vec<f64>]) -> Vec<f64> {
    let count = rows.len().max(1) as f64;
    let figures = rows.first().map_or(0, Vec::len);
    (0..figures).map(|at| rows.iter().map(|row| row[at]).sum::<f64>() / count).collect()
}

impl Wish {
    /// Ranks the classes by their figures on some grounds, at least one.
    pub fn ranked(goal: Goal, by: By, grounds: Vec<Ground>) -> Self {
        let rows: Vec<Vec<f64>> = grounds.iter().map(|ground| ground.values.clone()).collect();
        let values = mean_of(&rows);
        // A ground on which every order has the same figure says nothing of any.
        let tells = |row: &Vec<f64>| row.windows(2).any(|pair| pair[0] != pair[1]);
        let telling = |ground: &usize| tells(&rows[*ground]) || !rows.iter().any(tells);
        let telling: Vec<usize> = (0..rows.len()).filter(telling).collect();
        let worst_of = |class: usize| {
            let of = telling.iter().map(|&ground| (rows[ground][class], ground)).rev();
            of.max_by(|a, b| goal.far(a.0).total_cmp(&goal.far(b.0))).unwrap_or_default()
        };
        let worst: Vec<(f64, usize)> = (0..values.len()).map(worst_of).collect();
        let count = values.len();
        let mut wish =
            Self { goal, by, grounds, values, worst, order: Vec::new(), ranks: vec![0; count], digits: 0 };
        let mut order: Vec<usize> = (0..count).collect();
        // Equal figures stay in the order of their numbers.
        order.sort_by(|&a, &b| wish.nearer(by, a, b));
        order.iter().zip(1..).for_each(|(&class, rank)| wish.ranks[class] = rank);
        let figure = |&class: &usize| match by {
            By::Mean => wish.values[class],
            By::Worst => wish.worst[class].0,
        };
        wish.digits = digits(&order.iter().map(figure).collect::<Vec<_>>());
        wish.order = order;
        wish
    }

    /// Which of two classes is nearer the goal; where they are level, the other figure decides.
    fn nearer(&self, by: By, a: usize, b: usize) -> Ordering {
        let mean = self.goal.far(self.values[a]).total_cmp(&self.goal.far(self.values[b]));
        let worst = self.goal.far(self.worst[a].0).total_cmp(&self.goal.far(self.worst[b].0));
        match by {
            By::Mean => mean.then(worst),
            By::Worst => worst.then(mean),
        }
    }

    /// 1 for the nearest to the goal.
    pub fn rank(&self, class: usize) -> usize {
        self.ranks[class]
    }

    /// Whether orders are judged on several pieces or moments.
    pub fn is_of_several(&self) -> bool {
        self.grounds.len() > 1
    }

    pub fn figure_on(&self, ground: usize, class: usize) -> f64 {
        self.grounds[ground].values[class]
    }

    pub fn worst_ground(&self, class: usize) -> &str {
        &self.grounds[self.worst[class].1].name
    }

    /// A figure with as many digits as tell those of all ranks apart.
    pub fn figure_said(&self, figure: f64) -> String {
        format!("{figure:.*}", self.digits)
    }

    /// "rank 7, mean luminance 0.431"; of several grounds with the worst of them.
    pub fn rank_said(&self, class: usize) -> String {
        let (rank, figure) = (self.rank(class), self.goal.figure());
        let worst = match self.is_of_several() {
            true => {
                let worst = self.figure_said(self.worst[class].0);
                format!(", at worst {worst} ({})", self.worst_ground(class))
            }
            false => String::new(),
        };
        format!("rank {rank}, {figure} {}{worst}", self.figure_said(self.values[class]))
    }

    /// The class that is best by the mean, or by the worst ground: of several, the first.
    pub fn best(&self, by: By) -> usize {
        (0..self.values.len()).min_by(|&a, &b| self.nearer(by, a, b)).unwrap_or(0)
    }

    /// What a ground would gain from an order of its own instead of the one that is best for all.
    pub fn gain(&self, ground: usize) -> Gain {
        let values = &self.grounds[ground].values;
        let far = |class: usize| self.goal.far(values[class]);
        let classes = 0..values.len();
        let own = classes.clone().min_by(|&a, &b| far(a).total_cmp(&far(b))).unwrap_or(0);
        let most = classes.clone().map(far).fold(far(own), f64::max);
        let all = self.order.first().copied().unwrap_or(0);
        let (gain, range) = (far(all) - far(own), most - far(own));
        Gain {
            own,
            gain,
            disagrees: if range > 0.0 { gain / range } else { 0.0 },
            rank: 1 + classes.filter(|&class| far(class) < far(all)).count(),
        }
    }

    /// The ground that gives up most for the order that is best for all; none where every one has its own best.
    pub fn disagrees_most(&self) -> Option<(usize, Gain)> {
        let gains = (0..self.grounds.len()).map(|ground| (ground, self.gain(ground)));
        let most = gains.rev().max_by(|(_, a), (_, b)| a.disagrees.total_cmp(&b.disagrees));
        most.filter(|(_, gain)| gain.disagrees > 0.0)
    }

    /// Which ground disagrees most with the order that is best for all: "quay.mp4 disagrees most: 2143 is place 41 of 54
    /// there, and 5421 is best."
    pub fn disagreement_said(&self, code: impl Fn(usize) -> String) -> String {
        let all = code(self.order.first().copied().unwrap_or(0));
        match self.disagrees_most() {
            None => format!("{all} is best on each of them."),
            Some((ground, Gain { own, rank, .. })) => {
                let Ground { name, values } = &self.grounds[ground];
                let (own, of) = (code(own), values.len());
                format!("{name} disagrees most: {all} is place {rank} of {of} there, and {own} is best.")
            }
        }
    }

    /// Which order holds best on all grounds. `code` names a class, `grounds` is "9 pieces".
    pub fn best_said(&self, code: impl Fn(usize) -> String, grounds: &str) -> Vec<String> {
        let [mean, worst] = [By::Mean, By::Worst].map(|by| self.best(by));
        let (goal, figure) = (self.goal.name(), self.goal.figure());
        let at_worst = format!("{} on {}", self.figure_said(self.worst[worst].0), self.worst_ground(worst));
        let by_mean = format!("by the mean ({figure} {})", self.figure_said(self.values[mean]));
        let best = match mean == worst {
            true => format!("{}, {by_mean} and by the worst ({at_worst})", code(mean)),
            false => format!("{} {by_mean}, {} by the worst ({at_worst})", code(mean), code(worst)),
        };
        vec![format!("Best for {goal} on all {grounds}: {best}.")]
    }

    /// The answer, where orders are judged on several grounds: which order holds best everywhere, what each ground would
    /// gain from one of its own, and which of them disagrees most. `code` names a class, `grounds` is "9 pieces".
    pub fn answer_said(&self, code: impl Fn(usize) -> String, grounds: &str) -> Vec<String> {
        let mut lines = self.best_said(&code, grounds);
        let all = code(self.order.first().copied().unwrap_or(0));
        let most = self.disagrees_most();
        let Some((disagrees, _)) = &most else {
            lines.push(format!("{all} is best on each of them."));
            return lines;
        };
        lines.push(format!("What an order of its own would gain over {all}:"));
        for (at, ground) in self.grounds.iter().enumerate() {
            let Gain { own, gain, disagrees: share, rank } = self.gain(at);
            let said = match rank {
                1 if ground.values.windows(2).all(|pair| pair[0] == pair[1]) => {
                    "nothing: every order has the same figure there".to_owned()
                }
                1 => format!("nothing: {all} is best there"),
                _ => {
                    let of = self.grounds[at].values.len();
                    let most = if at == *disagrees { ", disagrees most" } else { "" };
                    format!(
                        "{} with {}; {all} is place {rank} of {of} there and gives up {:.0} % of what order can do{most}",
                        self.figure_said(gain),
                        code(own),
                        share * 100.0
                    )
                }
            };
            lines.push(format!("  {}: {said}", ground.name));
        }
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wish(goal: Goal, by: By, rows: &[&[f64]]) -> Wish {
        let ground =
            |(at, row): (usize, &&[f64])| Ground { name: format!("piece {at}"), values: row.to_vec() };
        Wish::ranked(goal, by, rows.iter().enumerate().map(ground).collect())
    }

    #[test]
    fn the_mean_and_the_worst_ground_may_name_different_orders() {
        let rows: [&[f64]; 2] = [&[9.0, 5.0, 1.0], &[1.0, 4.0, 2.0]];
        let brightest = wish(Goal::Brightest, By::Mean, &rows);
        assert_eq!(brightest.order, [0, 1, 2]);
        assert_eq!((brightest.best(By::Mean), brightest.best(By::Worst)), (0, 1));
        assert_eq!(wish(Goal::Brightest, By::Worst, &rows).order, [1, 0, 2]);
        assert_eq!((brightest.worst[0], brightest.worst_ground(0)), ((1.0, 1), "piece 1"));
        // Darkest: by the mean the third, and by its worst ground too.
        let darkest = wish(Goal::Darkest, By::Worst, &rows);
        assert_eq!((darkest.best(By::Mean), darkest.best(By::Worst), darkest.worst[2]), (2, 2, (2.0, 1)));
    }

    #[test]
    fn what_a_ground_gives_up_is_a_share_of_what_order_can_do_there() {
        let wish = wish(Goal::Brightest, By::Mean, &[&[9.0, 5.0, 1.0], &[1.0, 4.0, 2.0], &[7.0, 7.0, 7.0]]);
        let gains: Vec<(usize, f64, f64, usize)> =
            (0..3).map(|at| wish.gain(at)).map(|g| (g.own, g.gain, g.disagrees, g.rank)).collect();
        assert_eq!(gains, [(0, 0.0, 0.0, 1), (1, 3.0, 1.0, 3), (0, 0.0, 0.0, 1)]);
        assert_eq!(wish.disagrees_most().map(|(at, _)| at), Some(1));
        let said = wish.answer_said(|class| format!("code {class}"), "3 pieces").join("\n");
        assert!(said.contains("piece 1: 3.000 with code 1; code 0 is place 3 of 3 there"), "{said}");
        assert!(said.contains("gives up 100 % of what order can do, disagrees most"), "{said}");
        let said = wish.disagreement_said(|class| format!("code {class}"));
        assert_eq!(said, "piece 1 disagrees most: code 0 is place 3 of 3 there, and code 1 is best.");
    }

    #[test]
    fn a_ground_on_which_order_does_nothing_is_the_worst_of_none() {
        let rows: [&[f64]; 3] = [&[9.0, 5.0, 1.0], &[1.0, 4.0, 2.0], &[0.0, 0.0, 0.0]];
        let brightest = wish(Goal::Brightest, By::Worst, &rows);
        assert_eq!((brightest.order[0], brightest.worst_ground(1)), (1, "piece 1"));
        let nothing = wish(Goal::Brightest, By::Worst, &[&[0.0, 0.0], &[0.0, 0.0]]);
        assert_eq!((nothing.order.as_slice(), nothing.worst[1]), ([0, 1].as_slice(), (0.0, 0)));
    }

    #[test]
    fn where_all_agree_that_is_said() {
        let wish = wish(Goal::Darkest, By::Mean, &[&[1.0, 2.0], &[3.0, 4.0]]);
        assert!(wish.disagrees_most().is_none());
        let said = wish.answer_said(|class| class.to_string(), "2 pieces");
        assert_eq!(said[1], "0 is best on each of them.");
    }
}
