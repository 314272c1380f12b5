//! The events of the CommonMark parser, with what is not safe taken out and tables, headings and
//! formulas written our way.

use std::collections::BTreeMap;

use maud::{Render, html};
use pulldown_cmark::{
    Alignment, CowStr, Event, LinkType, Options, Parser, Tag, TagEnd, html::push_html,
};

use crate::notebook::mathml::{self, MathLayout};

pub(super) fn to_html(text: &str, taken: &mut BTreeMap<String, usize>) -> String {
    let options = Options::ENABLE_TABLES | Options::ENABLE_MATH;
    let mut filter = Filter {
        events: Vec::new(),
        links: Vec::new(),
        image: None,
        heading: None,
        table: Table::default(),
        taken,
    };
    for event in Parser::new_ext(text, options) {
        filter.take(event);
    }
    let mut out = String::new();
    push_html(&mut out, filter.events.into_iter());
    out
}

struct Filter<'a, 't> {
    events: Vec<Event<'a>>,
    /// For each open link whether it is written.
    links: Vec<bool>,
    image: Option<Image>,
    heading: Option<Heading>,
    table: Table,
    taken: &'t mut BTreeMap<String, usize>,
}

/// An image that is being read: its description is the text up to its end.
struct Image {
    destination: String,
    description: String,
    /// Images within its description.
    nested: usize,
}

/// A heading that is being read: where its start event stands, and its text so far.
struct Heading {
    start: usize,
    text: String,
}

#[derive(Default)]
struct Table {
    alignments: Vec<Alignment>,
    column: usize,
    in_head: bool,
}

impl<'a> Filter<'a, '_> {
    fn take(&mut self, event: Event<'a>) {
        if self.image.is_some() {
            self.describe_image(event);
            return;
        }
        match event {
            Event::Start(tag) => self.start(tag),
            Event::End(tag) => self.end(tag),
            Event::Html(raw) | Event::InlineHtml(raw) => self.text(raw),
            Event::Text(text) => self.text(text),
            Event::Code(code) => {
                self.add_to_heading(&code);
                self.events.push(Event::Code(code));
            }
            Event::InlineMath(latex) => {
                self.add_to_heading(&latex);
                self.markup(mathml::to_html(&latex, MathLayout::Inline));
            }
            Event::DisplayMath(latex) => {
                let formula = mathml::to_html(&latex, MathLayout::Block);
                let formula = maud::PreEscaped(formula);
                self.markup(html! { span class="formula" { (formula) } }.into_string());
            }
            other => self.events.push(other),
        }
    }

    fn start(&mut self, tag: Tag<'a>) {
        match tag {
            Tag::HtmlBlock => self.events.push(Event::Start(Tag::Paragraph)),
            Tag::Link {
                link_type,
                dest_url,
                title,
                ..
            } => self.start_link(link_type, &dest_url, &title),
            Tag::Image { dest_url, .. } => {
                self.image = Some(Image {
                    destination: dest_url.into_string(),
                    description: String::new(),
                    nested: 0,
                });
            }
            Tag::Heading { .. } => {
                self.heading = Some(Heading {
                    start: self.events.len(),
                    text: String::new(),
                });
                self.events.push(Event::Start(tag));
            }
            Tag::Table(alignments) => {
                self.table.alignments = alignments;
                // Focusable, so that a table wider than the window can be scrolled by keyboard.
                self.markup(
                    "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Table\"><table>",
                );
            }
            Tag::TableHead => {
                self.table.in_head = true;
                self.table.column = 0;
                self.markup("<thead><tr>");
            }
            Tag::TableRow => {
                self.table.column = 0;
                self.markup("<tr>");
            }
            Tag::TableCell => self.start_table_cell(),
            other => self.events.push(Event::Start(other)),
        }
    }

    fn end(&mut self, tag: TagEnd) {
        match tag {
            TagEnd::HtmlBlock => self.events.push(Event::End(TagEnd::Paragraph)),
            TagEnd::Link => {
                if self.links.pop() == Some(true) {
                    self.markup("</a>");
                }
            }
            TagEnd::Heading(_) => {
                self.events.push(Event::End(tag));
                self.name_heading();
            }
            TagEnd::Table => self.markup("</tbody></table></div>\n"),
            TagEnd::TableHead => {
                self.table.in_head = false;
                self.markup("</tr></thead><tbody>\n");
            }
            TagEnd::TableRow => self.markup("</tr>\n"),
            TagEnd::TableCell => {
                let end = if self.table.in_head { "</th>" } else { "</td>" };
                self.markup(end);
            }
            other => self.events.push(Event::End(other)),
        }
    }

    fn start_link(&mut self, kind: LinkType, destination: &str, title: &str) {
        let destination = match kind {
            LinkType::Email => format!("mailto:{destination}"),
            _ => destination.to_owned(),
        };
        let allowed = is_allowed_link(&destination);
        self.links.push(allowed);
        if !allowed {
            return;
        }
        let title = match title {
            "" => String::new(),
            title => format!(" title=\"{}\"", title.render().into_string()),
        };
        self.markup(format!(
            "<a href=\"{}\" rel=\"noreferrer\"{title}>",
            destination.render().into_string()
        ));
    }

    fn start_table_cell(&mut self) {
        let class = match self.table.alignments.get(self.table.column) {
            Some(Alignment::Center) => " class=\"center\"",
            Some(Alignment::Right) => " class=\"right\"",
            _ => "",
        };
        self.table.column += 1;
        self.markup(if self.table.in_head {
            format!("<th scope=\"col\"{class}>")
        } else {
            format!("<td{class}>")
        });
    }

    fn describe_image(&mut self, event: Event<'a>) {
        let Some(image) = &mut self.image else {
            return;
        };
        match event {
            Event::Start(Tag::Image { .. }) => image.nested += 1,
            Event::End(TagEnd::Image) if image.nested > 0 => image.nested -= 1,
            Event::End(TagEnd::Image) => self.end_image(),
            Event::SoftBreak | Event::HardBreak => image.description.push(' '),
            Event::Text(text)
            | Event::Code(text)
            | Event::InlineMath(text)
            | Event::DisplayMath(text)
            | Event::Html(text)
            | Event::InlineHtml(text) => image.description.push_str(&text),
            _ => {}
        }
    }

    fn end_image(&mut self) {
        let Some(image) = self.image.take() else {
            return;
        };
        if is_allowed_image(&image.destination) {
            let markup = html! { img src=(image.destination) alt=(image.description); };
            self.markup(markup.into_string());
        } else {
            self.text(image.description.into());
        }
    }

    fn name_heading(&mut self) {
        let Some(heading) = self.heading.take() else {
            return;
        };
        let name = unique(&slug(&heading.text), self.taken);
        if let Some(Event::Start(Tag::Heading { id, .. })) = self.events.get_mut(heading.start) {
            *id = Some(name.into());
        }
    }

    fn text(&mut self, text: CowStr<'a>) {
        self.add_to_heading(&text);
        self.events.push(Event::Text(text));
    }

    fn add_to_heading(&mut self, text: &str) {
        if let Some(heading) = &mut self.heading {
            heading.text.push_str(text);
        }
    }

    /// Markup of ours, written as it is.
    fn markup(&mut self, markup: impl Into<CowStr<'a>>) {
        self.events.push(Event::InlineHtml(markup.into()));
    }
}

fn is_allowed_link(destination: &str) -> bool {
    destination.starts_with('#')
        || ["http://", "https://", "mailto:"]
            .into_iter()
            .any(|scheme| starts_with_ignoring_case(destination, scheme))
}

/// Pictures that stand in the text itself. In an `<img>` an SVG neither runs scripts nor loads.
fn is_allowed_image(destination: &str) -> bool {
    ["gif", "jpeg", "png", "svg+xml", "webp"]
        .into_iter()
        .any(|kind| {
            let prefix = format!("data:image/{kind}");
            starts_with_ignoring_case(destination, &prefix)
                && destination[prefix.len()..].starts_with([';', ','])
        })
}

fn starts_with_ignoring_case(text: &str, prefix: &str) -> bool {
    text.get(..prefix.len())
        .is_some_and(|start| start.eq_ignore_ascii_case(prefix))
}

/// An identifier from a heading: letters and digits in lower case, a hyphen for what is between.
fn slug(text: &str) -> String {
    let mut slug = String::new();
    for c in text.chars() {
        if c.is_alphanumeric() {
            slug.extend(c.to_lowercase());
        } else if !slug.is_empty() && !slug.ends_with('-') {
            slug.push('-');
        }
    }
    let length = slug.trim_end_matches('-').len();
    slug.truncate(length);
    if slug.is_empty() {
        slug.push_str("section");
    }
    slug
}

/// A name that no heading has: `name`, or `name` with a number.
fn unique(name: &str, taken: &mut BTreeMap<String, usize>) -> String {
    let mut number = taken.get(name).copied().unwrap_or(1);
    let mut candidate = name.to_owned();
    while taken.contains_key(&candidate) {
        number += 1;
        candidate = format!("{name}-{number}");
    }
    taken.insert(candidate.clone(), 1);
    // Where the search for the next one starts, so that many like headings do not take long.
    taken.insert(name.to_owned(), number);
    candidate
}
