"""Addresses of this app, one thing and one verb each."""

from django.urls import path

from apiaries.views import (
    club,
    colonies,
    colony_life,
    helpers,
    history,
    invitations,
    labels,
    leaving,
    me,
    members,
    pages,
    second_step,
    sign_ins,
    tokens,
    yards,
)

app_name = "apiaries"
urlpatterns = [
    # yards
    path("yards/", yards.yard_list, name="yard-list"),
    path("yards/new/", yards.yard_add, name="yard-add"),
    path("yards/<int:pk>/", yards.yard_detail, name="yard-detail"),
    path("yards/<int:pk>/edit/", yards.yard_edit, name="yard-edit"),
    path("yards/<int:pk>/helpers/", helpers.helper_list, name="helper-list"),
    path("yards/<int:pk>/helpers/<int:helper_pk>/end/", helpers.helper_end, name="helper-end"),
    # colonies
    path("yards/<int:pk>/colonies/new/", colonies.colony_add, name="colony-add"),
    path("colonies/<int:pk>/", colonies.colony_detail, name="colony-detail"),
    path("colonies/<int:pk>/edit/", colonies.colony_edit, name="colony-edit"),
    path("colonies/<int:pk>/move/", colonies.colony_move, name="colony-move"),
    path("colonies/<int:pk>/end/", colonies.colony_end, name="colony-end"),
    path("colonies/<int:pk>/split/", colony_life.colony_split, name="colony-split"),
    path("colonies/<int:pk>/unite/", colony_life.colony_unite, name="colony-unite"),
    path("colonies/<int:pk>/requeen/", colony_life.colony_requeen, name="colony-requeen"),
    path("colonies/changes/<int:pk>/undo/", colony_life.change_undo, name="change-undo"),
    # hive labels
    path("l/<str:code>/", colonies.label, name="label"),
    path("yards/<int:pk>/labels/", labels.hive_labels, name="hive-labels"),
    # people
    path("members/", members.member_list, name="member-list"),
    path("members/<int:pk>/change/", members.member_change, name="member-change"),
    path("members/<int:pk>/end/", members.member_end, name="member-end"),
    path("members/<int:pk>/sign-out/", members.member_sign_out, name="member-sign-out"),
    path("members/<int:pk>/forget/", leaving.member_forget, name="member-forget"),
    path("members/<int:pk>/forget/call-off/", leaving.member_forget_call_off, name="member-forget-call-off"),
    path("members/invite/", invitations.invitation_add, name="invitation-add"),
    path("members/invitations/<int:pk>/again/", invitations.invitation_again, name="invitation-again"),
    path(
        "members/invitations/<int:pk>/withdraw/", invitations.invitation_withdraw, name="invitation-withdraw"
    ),
    path("join/<slug:token>/", invitations.invitation_accept, name="invitation-accept"),
    path("me/", me.me, name="me"),
    path("me/tokens/", tokens.token_list, name="token-list"),
    path("me/tokens/new/", tokens.token_make, name="token-make"),
    path("me/tokens/<int:pk>/revoke/", tokens.token_revoke, name="token-revoke"),
    path("me/second-step/", second_step.second_step, name="second-step"),
    path("me/sign-ins/", sign_ins.sign_in_list, name="sign-in-list"),
    path("me/sign-ins/<int:pk>/end/", sign_ins.sign_in_end, name="sign-in-end"),
    path("me/sign-ins/end-others/", sign_ins.sign_in_end_others, name="sign-in-end-others"),
    path("me/leave/", leaving.leave, name="leave"),
    path("me/leave/call-off/", leaving.leave_call_off, name="leave-call-off"),
    path("language/", me.language, name="language"),
    # the club
    path("club/", club.club_edit, name="club-edit"),
    path("club/visits/", club.visit_rule, name="visit-rule"),
    path("club/regions/new/", club.region_add, name="region-add"),
    path("club/regions/<int:pk>/", club.region_edit, name="region-edit"),
    path("club/regions/<int:pk>/remove/", club.region_remove, name="region-remove"),
    # what changed of any fact
    path("history/<slug:kind>/<int:pk>/", history.history, name="history"),
    # to read
    path("who-sees-what/", pages.who_sees_what, name="who-sees-what"),
    path("cautions/", pages.cautions, name="cautions"),
    path("help/", pages.help_page, name="help"),
]
