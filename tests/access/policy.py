"""Who gets which answer at which address, written by hand: it shares no code with the application.

Columns: a stranger; Charlie, another member; Bob, who helps in Alice's yard; Alice, its keeper; Dana, coordinator
(Alice does not share her counts); Ines, inspector of its region; Ivan, inspector of another; Adam, administrator;
Zoe, administrator of another club. `in` is the way to the sign-in page; a program is told 401 instead. Answers are to
GET, or to an empty POST where the third word is POST. Names without "=": an address that is the same for everybody.
"""

PEOPLE = ("stranger", "charlie", "bob", "alice", "dana", "ines", "ivan", "adam", "zoe")

TABLE = """
apiaries:yard-list           |                     | GET  | in  200 200 200 200 200 200 200 200
apiaries:yard-add            |                     | GET  | in  200 200 200 200 403 403 200 200
apiaries:yard-detail         | yard                | GET  | in  404 200 200 404 200 404 404 404
apiaries:yard-edit           | yard                | GET  | in  404 403 200 404 403 404 404 404
apiaries:helper-list         | yard                | GET  | in  404 403 200 404 403 404 404 404
apiaries:helper-end          | helper              | POST | in  404 403 302 404 403 404 404 404
apiaries:colony-add          | yard                | GET  | in  404 403 200 404 403 404 404 404
apiaries:colony-detail       | colony              | GET  | in  404 200 200 404 200 404 404 404
apiaries:colony-edit         | colony              | GET  | in  404 403 200 404 403 404 404 404
apiaries:colony-move         | colony              | GET  | in  404 403 200 404 403 404 404 404
apiaries:colony-end          | colony              | GET  | in  404 403 200 404 403 404 404 404
apiaries:colony-split        | colony              | GET  | in  404 403 200 404 403 404 404 404
apiaries:colony-unite        | colony              | GET  | in  404 403 200 404 403 404 404 404
apiaries:colony-requeen      | colony              | GET  | in  404 403 200 404 403 404 404 404
apiaries:change-undo         | change              | GET  | in  404 403 200 404 403 404 404 404
apiaries:label               | label               | GET  | in  404 302 302 404 302 404 404 404
apiaries:hive-labels         | yard                | GET  | in  404 200 200 404 403 404 404 404
apiaries:label               | no such label       | GET  | in  404 404 404 404 404 404 404 404
apiaries:member-list         |                     | GET  | in  403 403 403 200 403 403 200 200
apiaries:member-change       | charlies membership | GET  | in  403 403 403 403 403 403 200 404
apiaries:member-end          | charlies membership | GET  | in  403 403 403 403 403 403 200 404
apiaries:member-sign-out     | charlies membership | GET  | in  403 403 403 403 403 403 200 404
apiaries:member-forget       | charlies membership | GET  | in  403 403 403 403 403 403 200 404
apiaries:member-forget-call-off | charlies membership | POST | in  403 403 403 403 403 403 302 404
apiaries:invitation-add      |                     | GET  | in  403 403 403 200 403 403 200 200
apiaries:invitation-again    | invitation          | POST | in  403 403 403 302 403 403 302 404
apiaries:invitation-withdraw | invitation          | POST | in  403 403 403 302 403 403 302 404
apiaries:invitation-accept   | invitation's word   | GET  | 200 200 200 200 200 200 200 200 200
apiaries:me                  |                     | GET  | in  200 200 200 200 200 200 200 200
apiaries:token-list          |                     | GET  | in  200 200 200 200 200 200 200 200
apiaries:token-make          |                     | GET  | in  302 302 302 302 302 302 302 302
apiaries:token-revoke        | token               | GET  | in  404 404 200 404 404 404 404 404
apiaries:sign-in-list        |                     | GET  | in  200 200 200 200 200 200 200 200
apiaries:sign-in-end         | sign-in             | POST | in  404 404 302 404 404 404 404 404
apiaries:sign-in-end-others  |                     | POST | in  302 302 302 302 302 302 302 302
apiaries:second-step         |                     | GET  | in  302 302 302 302 302 302 302 302
apiaries:leave               |                     | GET  | in  200 200 200 200 200 200 200 200
apiaries:leave-call-off      |                     | POST | in  302 302 302 302 302 302 302 302
apiaries:language            |                     | GET  | 200 200 200 200 200 200 200 200 200
apiaries:club-edit           |                     | GET  | in  403 403 403 403 403 403 200 200
apiaries:visit-rule          |                     | GET  | in  403 403 403 403 403 403 200 200
apiaries:region-add          |                     | GET  | in  403 403 403 403 403 403 200 200
apiaries:region-edit         | north               | GET  | in  403 403 403 403 403 403 200 404
apiaries:region-remove       | north               | POST | in  403 403 403 403 403 403 302 404
apiaries:history             | past of the yard    | GET  | in  404 200 200 404 200 404 404 404
apiaries:history             | past of the colony  | GET  | in  404 200 200 404 200 404 404 404
apiaries:history             | past of charlie     | GET  | in  200 403 403 200 403 403 200 404
apiaries:history             | past of the club    | GET  | in  403 403 403 403 403 403 200 404
apiaries:history             | past of north       | GET  | in  403 403 403 403 403 403 200 404
apiaries:history             | past of the count   | GET  | in  404 200 200 404 200 404 404 404
apiaries:history             | past of the week    | GET  | in  200 200 200 200 200 200 200 404
apiaries:history             | past of a treatment | GET  | in  404 200 200 404 200 404 404 404
apiaries:history             | past of a round     | GET  | in  404 200 200 404 200 404 404 404
apiaries:history             | past of a dose      | GET  | in  404 200 200 404 200 404 404 404
apiaries:history             | past of a recount   | GET  | in  404 200 200 404 200 404 404 404
apiaries:history             | past of a purchase  | GET  | in  404 200 200 404 200 404 404 404
apiaries:history             | past of a disposal  | GET  | in  404 200 200 404 200 404 404 404
apiaries:history             | past of a heater    | GET  | in  404 404 200 404 404 404 404 404
apiaries:history             | past of nothing     | GET  | in  404 404 404 404 404 404 404 404
apiaries:who-sees-what       |                     | GET  | in  200 200 200 200 200 200 200 200
apiaries:cautions            |                     | GET  | in  200 200 200 200 200 200 200 200
apiaries:help                |                     | GET  | in  200 200 200 200 200 200 200 200
counts:import-list           |                     | GET  | in  200 200 200 200 200 200 200 200
counts:import-add            |                     | GET  | in  200 200 200 200 200 200 200 200
counts:import-detail         | sheet               | GET  | in  404 404 200 404 404 404 404 404
counts:import-file           | sheet               | GET  | in  404 404 200 404 404 404 404 404
counts:import-headings       | sheet               | GET  | in  404 404 200 404 404 404 404 404
counts:import-answers        | sheet               | GET  | in  404 404 200 404 404 404 404 404
counts:import-colonies       | sheet               | GET  | in  404 404 200 404 404 404 404 404
counts:import-rows           | sheet               | GET  | in  404 404 200 404 404 404 404 404
counts:import-problems-csv   | sheet               | GET  | in  404 404 200 404 404 404 404 404
counts:import-undo           | sheet               | GET  | in  404 404 302 404 404 404 404 404
counts:import-agree          | sheet               | POST | in  404 404 302 404 404 404 404 404
counts:import-bring-in       | sheet               | POST | in  404 404 302 404 404 404 404 404
counts:import-put-aside      | sheet               | POST | in  404 404 302 404 404 404 404 404
counts:sample-list           |                     | GET  | in  200 200 200 200 200 200 200 200
counts:sample-add            | colony              | GET  | in  404 200 200 404 403 404 404 404
counts:yard-count            | yard                | GET  | in  404 200 200 404 403 404 404 404
counts:yard-entries          | yard                | POST | in  404 400 400 404 403 404 404 404
counts:phone-file            |                     | GET  | in  200 200 200 200 200 200 200 200
counts:sampling-plan         | yard                | GET  | in  404 200 200 404 403 404 404 404
counts:yard-sheet-pdf        | yard                | GET  | in  404 200 200 404 403 404 404 404
counts:yard-sheets-pdf       |                     | GET  | in  200 200 200 404 404 404 404 404
counts:method-cards-pdf      |                     | GET  | 200 200 200 200 200 200 200 200 200
counts:sample-detail         | sample              | GET  | in  404 200 200 404 200 404 404 404
counts:sample-correct        | sample              | GET  | in  404 403 200 404 403 404 404 404
counts:sample-correct        | bob's sample        | GET  | in  404 200 200 404 403 404 404 404
counts:sample-void           | sample              | GET  | in  404 403 200 404 403 404 404 404
counts:sample-restore        | sample              | GET  | in  404 403 302 404 403 404 404 404
counts:sample-restore        | bob's sample        | GET  | in  404 302 302 404 403 404 404 404
counts:sample-void           | bob's sample        | GET  | in  404 200 200 404 403 404 404 404
counts:count-week-list       |                     | GET  | in  200 200 200 200 200 200 200 200
counts:count-week-set        |                     | GET  | in  403 403 403 200 403 403 200 200
counts:count-week-cancel     | count week          | GET  | in  403 403 403 200 403 403 200 404
counts:count-months          |                     | GET  | in  403 403 403 200 403 403 200 200
reports:today                |                     | GET  | in  200 200 200 200 200 200 200 200
treatments:treatment-list    |                     | GET  | in  200 200 200 200 200 200 200 200
treatments:treatment-add     | yard                | GET  | in  404 200 200 404 403 404 404 404
treatments:day-possible      | yard                | GET  | in  404 200 200 404 403 404 404 404
treatments:day-plan          | yard and way        | GET  | in  404 200 200 404 403 404 404 404
treatments:round-plan        | round with a sheet  | GET  | in  404 200 200 404 403 404 404 404
treatments:round-sheet       | round with a sheet  | GET  | in  404 200 200 404 200 404 404 404
treatments:round-yard        | round with a sheet  | GET  | in  404 200 200 404 403 404 404 404
treatments:round-marks       | round with a sheet  | POST | in  404 400 400 404 403 404 404 404
treatments:round-finish      | round with a sheet  | GET  | in  404 200 200 404 403 404 404 404
treatments:round-sheet-pdf   | round with a sheet  | GET  | in  404 200 200 404 200 404 404 404
treatments:treatment-detail  | treatment           | GET  | in  404 200 200 404 200 404 404 404
treatments:round-give        | round to give       | GET  | in  404 200 200 404 403 404 404 404
treatments:round-out-by      | round in the hive   | GET  | in  404 200 200 404 403 404 404 404
treatments:round-out         | round in the hive   | GET  | in  404 200 200 404 403 404 404 404
treatments:treatment-cancel  | treatment           | GET  | in  404 200 200 404 403 404 404 404
treatments:recount-skip      | recount             | GET  | in  404 200 200 404 403 404 404 404
treatments:count-leave-out   | yard                | GET  | in  404 200 200 404 403 404 404 404
treatments:outcome           | treatment           | GET  | in  404 200 200 404 200 404 404 404
treatments:device-list       |                     | GET  | in  200 200 200 200 200 200 200 200
treatments:device-add        |                     | GET  | in  200 200 200 200 200 200 200 200
treatments:device-edit       | heater              | GET  | in  404 404 200 404 404 404 404 404
treatments:device-trial      | heater              | GET  | in  404 404 200 404 404 404 404 404
treatments:device-put-away   | heater              | GET  | in  404 404 200 404 404 404 404 404
treatments:treatment-record  | treatment           | GET  | in  404 200 200 404 403 404 404 404
treatments:medicine-record   |                     | GET  | in  200 200 200 200 200 200 200 200
treatments:medicine-record-csv |                   | GET  | in  200 200 200 200 200 200 200 200
treatments:medicine-record-chain |                 | GET  | in  200 200 200 200 200 200 200 200
treatments:medicine-record-pdf |                   | GET  | in  200 200 200 200 200 200 200 200
treatments:locked-records    |                     | GET  | in  404 404 404 404 200 200 404 404
treatments:purchase-add      | keeper              | GET  | in  404 200 200 404 403 404 404 404
treatments:purchase-correct  | purchase            | GET  | in  404 403 200 404 403 404 404 404
treatments:purchase-void     | purchase            | GET  | in  404 403 200 404 403 404 404 404
treatments:disposal-add      | keeper              | GET  | in  404 200 200 404 403 404 404 404
treatments:disposal-correct  | disposal            | GET  | in  404 403 200 404 403 404 404 404
treatments:disposal-void     | disposal            | GET  | in  404 403 200 404 403 404 404 404
reports:today-later          |                     | POST | in  404 404 404 404 404 404 404 404
reports:today-now            |                     | POST | in  404 404 404 404 404 404 404 404
reports:region-month         |                     | GET  | in  302 302 302 200 200 200 200 200
reports:region-published     |                     | GET  | in  200 200 200 200 200 200 200 200
reports:published-chart      |                     | GET  | in  200 200 200 200 200 200 200 200
reports:outside-open         |                     | POST | in  403 403 403 403 403 403 302 302
reports:outside-close        |                     | POST | in  403 403 403 403 403 403 302 302
reports:region-outside       | public page         | GET  | 200 200 200 200 200 200 200 200 200
reports:region-outside       | no such page        | GET  | 404 404 404 404 404 404 404 404 404
reports:region-chart         |                     | GET  | in  403 403 403 200 200 200 200 200
reports:region-map           |                     | GET  | in  403 403 403 200 200 200 200 200
reports:bulletin-list        |                     | GET  | in  200 200 200 200 200 200 200 200
reports:bulletin-draft       |                     | GET  | in  403 403 403 200 403 403 200 200
reports:bulletin-detail      | draft               | GET  | in  404 404 404 200 404 404 200 404
reports:bulletin-detail      | issued bulletin     | GET  | in  200 200 200 200 200 200 200 404
reports:bulletin-chart       | draft               | GET  | in  404 404 404 404 404 404 404 404
reports:bulletin-pdf         | draft               | GET  | in  404 404 404 200 404 404 200 404
reports:bulletin-pdf         | issued bulletin     | GET  | in  200 200 200 200 200 200 200 404
reports:bulletin-foreword    | draft               | GET  | in  403 403 403 200 403 403 200 404
reports:bulletin-issue       | draft               | GET  | in  403 403 403 200 403 403 200 404
reports:bulletin-issue       | draft               | POST | in  403 403 403 200 403 403 200 404
reports:bulletin-withdraw    | issued bulletin     | GET  | in  403 403 403 200 403 403 200 404
reports:yards-around         |                     | GET  | in  404 404 404 404 200 200 404 404
reports:yards-around-yard    | yard                | GET  | in  404 404 404 404 200 404 404 404
reports:visit-list           |                     | GET  | in  404 404 404 404 200 200 404 404
reports:visit-before         | yard                | GET  | in  404 403 403 404 200 404 404 404
reports:visit-add            | yard                | GET  | in  404 403 403 404 200 404 404 404
reports:visit-entries        | yard                | POST | in  404 403 403 404 400 404 404 404
reports:visit-detail         | planned visit       | GET  | in  404 200 200 404 200 404 404 404
reports:visit-detail         | silent visit        | GET  | in  404 404 404 404 200 404 404 404
reports:visit-detail         | visit               | GET  | in  404 200 200 404 200 404 404 404
reports:visit-report-pdf     | visit               | GET  | in  404 200 200 404 200 404 404 404
reports:visit-report-pdf     | planned visit       | GET  | in  404 404 404 404 404 404 404 404
reports:visit-make           | planned visit       | GET  | in  404 403 403 404 200 404 404 404
reports:visit-cancel         | planned visit       | GET  | in  404 403 403 404 200 404 404 404
reports:visit-correct        | visit               | GET  | in  404 403 403 404 200 404 404 404
reports:visit-void           | visit               | GET  | in  404 403 403 404 200 404 404 404
counts:sample-correct        | visit's sample      | GET  | in  404 403 403 404 200 404 404 404
counts:sample-void           | visit's sample      | GET  | in  404 403 403 404 200 404 404 404
reports:follow-up-list       |                     | GET  | in  404 404 404 404 200 200 404 404
reports:order-done           | order               | GET  | in  404 403 403 404 200 404 404 404
reports:lab-result           | lab sample          | GET  | in  404 403 403 404 200 404 404 404
reports:visit-year           |                     | GET  | in  404 404 404 404 200 200 404 404
reports:visit-year-csv       |                     | GET  | in  404 404 404 404 200 200 404 404
reports:treatment-results    |                     | GET  | in  403 403 403 200 200 200 200 200
reports:colony-chart         | colony              | GET  | in  404 200 200 404 200 404 404 404
reports:yard-chart           | yard                | GET  | in  404 200 200 404 200 404 404 404
reports:seen-of-me           |                     | GET  | in  200 200 200 200 200 200 200 200
reports:take-everything      |                     | GET  | in  200 200 200 200 200 200 200 200
reports:take-file            |                     | GET  | in  200 200 200 200 200 200 200 200
reports:counts-csv           |                     | GET  | in  200 200 200 200 200 200 200 200
reports:treatments-csv       |                     | GET  | in  200 200 200 200 200 200 200 200
reports:bring-back           |                     | GET  | in  200 200 200 200 403 403 200 200
reports:bring-back-look      |                     | GET  | in  404 404 404 404 403 403 404 404
reports:bring-back-give-up   |                     | POST | in  302 302 302 302 403 403 302 302
reports:calendar             |                     | GET  | in  200 200 200 200 200 200 200 200
reports:calendar-make        |                     | POST | in  200 200 200 200 200 200 200 200
reports:calendar-make-yard   | yard                | POST | in  404 200 200 404 403 404 404 404
reports:calendar-revoke      | calendar            | POST | in  404 404 302 404 404 404 404 404
reports:calendar-feed        | calendar's word     | GET  | 200 200 200 200 200 200 200 200 200
reports:calendar-feed        | wrong word          | GET  | 404 404 404 404 404 404 404 404 404
reports:mail-again           |                     | POST | in  302 302 302 302 302 302 302 302
reports:operator-server      |                     | GET  | in  404 404 404 404 404 404 404 404
reports:operator-mails       |                     | GET  | in  404 404 404 404 404 404 404 404
reports:operator-mail-again  | mail                | POST | in  404 404 404 404 404 404 404 404
livez                        |                     | GET  | 200 200 200 200 200 200 200 200 200
metrics                      |                     | GET  | 404 404 404 404 404 404 404 404 404
readyz                       |                     | GET  | 200 200 200 200 200 200 200 200 200
reports:healthz-reminders    |                     | GET  | 200 200 200 200 200 200 200 200 200
reports:recount-entry        | wrong word          | GET  | 404 404 404 404 404 404 404 404 404
reports:mail-later           | wrong word          | GET  | 404 404 404 404 404 404 404 404 404
reports:mail-stop            | wrong word          | GET  | 404 404 404 404 404 404 404 404 404
api:yard-list                |                     | GET  | 401 200 200 200 200 200 200 200 200
api:yard-detail              | yard                | GET  | 401 404 200 200 404 200 404 404 404
api:colony-list              |                     | GET  | 401 200 200 200 200 200 200 200 200
api:colony-detail            | colony              | GET  | 401 404 200 200 404 200 404 404 404
api:count-list               |                     | GET  | 401 200 200 200 200 200 200 200 200
api:count-list               |                     | POST | 401 400 400 400 400 400 400 400 400
api:count-detail             | sample              | GET  | 401 404 200 200 404 200 404 404 404
api:count-correction         | sample              | POST | 401 404 403 400 404 403 404 404 404
api:count-correction         | bob's sample        | POST | 401 404 400 400 404 403 404 404 404
api:count-void               | sample              | POST | 401 404 403 415 404 403 404 404 404
api:count-void               | bob's sample        | POST | 401 404 415 415 404 403 404 404 404
api:count-restore            | sample              | POST | 401 404 403 415 404 403 404 404 404
api:yard-estimate            | yard                | GET  | 401 404 200 200 404 200 404 404 404
api:treatment-list           |                     | GET  | 401 200 200 200 200 200 200 200 200
api:treatment-detail         | treatment           | GET  | 401 404 200 200 404 200 404 404 404
api:region-list              |                     | GET  | 401 200 200 200 200 200 200 200 200
api:region-detail            | north               | GET  | 401 200 200 200 200 200 200 200 404
api:region-months            | north               | GET  | 401 200 200 200 200 200 200 200 404
api:me                       |                     | GET  | 401 200 200 200 200 200 200 200 200
api:schema                   |                     | GET  | 200 200 200 200 200 200 200 200 200
api:docs                     |                     | GET  | 200 200 200 200 200 200 200 200 200
api:docs-try                 |                     | GET  | 200 200 200 200 200 200 200 200 200
api:elsewhere                | no such address     | GET  | 404 404 404 404 404 404 404 404 404

service-worker               |                     | GET  | 200 200 200 200 200 200 200 200 200
security-txt                 |                     | GET  | 404 404 404 404 404 404 404 404 404
script-words                 | words of scripts    | GET  | 200 200 200 200 200 200 200 200 200
script-words                 | no such language    | GET  | 404 404 404 404 404 404 404 404 404

account_login                |                     | GET  | 200 302 302 302 302 302 302 302 302
account_logout               |                     | GET  | 302 200 200 200 200 200 200 200 200
account_inactive             |                     | GET  | 200 200 200 200 200 200 200 200 200
account_signup               |                     | GET  | 200 302 302 302 302 302 302 302 302
account_reauthenticate       |                     | GET  | in  200 200 200 200 200 200 200 200
account_email                |                     | GET  | in  200 200 200 200 200 200 200 200
account_email_verification_sent |                  | GET  | in  302 302 302 302 302 302 302 302
account_change_password      |                     | GET  | in  200 200 200 200 200 200 200 200
account_set_password         |                     | GET  | in  302 302 302 302 302 302 302 302
account_reset_password       |                     | GET  | 200 200 200 200 200 200 200 200 200
account_reset_password_done  |                     | GET  | 200 200 200 200 200 200 200 200 200
account_reset_password_from_key | reset key        | GET  | 200 200 200 200 200 200 200 200 200
account_reset_password_from_key_done |             | GET  | 200 200 200 200 200 200 200 200 200
account_request_login_code   |                     | GET  | 200 302 302 302 302 302 302 302 302
account_confirm_login_code   |                     | GET  | in  302 302 302 302 302 302 302 302
mfa_index                    |                     | GET  | in  200 200 200 200 200 200 200 200
mfa_authenticate             |                     | GET  | in  302 302 302 302 302 302 302 302
mfa_reauthenticate           |                     | GET  | in  302 302 302 302 302 302 302 302
mfa_activate_totp            |                     | GET  | in  302 302 302 302 302 302 302 302
mfa_deactivate_totp          |                     | GET  | in  404 404 404 404 404 404 404 404
mfa_view_recovery_codes      |                     | GET  | in  404 404 404 404 404 404 404 404
mfa_generate_recovery_codes  |                     | GET  | in  302 302 302 302 302 302 302 302
mfa_download_recovery_codes  |                     | GET  | in  404 404 404 404 404 404 404 404
"""

SCOPES = """
api:yard-list                | GET    | yards:read
api:yard-detail              | GET    | yards:read
api:colony-list              | GET    | yards:read
api:colony-detail            | GET    | yards:read
api:count-list               | GET    | counts:read
api:count-list               | POST   | counts:write
api:count-detail             | GET    | counts:read
api:count-correction         | POST   | counts:write
api:count-void               | POST   | counts:write
api:count-restore            | POST   | counts:write
api:yard-estimate            | GET    | counts:read
api:treatment-list           | GET    | treatments:read
api:treatment-detail         | GET    | treatments:read
api:region-list              | GET    | regions:read
api:region-detail            | GET    | regions:read
api:region-months            | GET    | regions:read
api:me                       | GET    | any
"""
"""What a token must be for, at each address of the interface and with each verb that is answered there."""
FOR_ALL = ("api:schema", "api:docs", "api:docs-try", "api:elsewhere")
"""Addresses of the interface that need no token."""

OPERATOR = {
    "reports:operator-server": "200",
    "reports:operator-mails": "200",
    "reports:operator-mail-again": "302",
}
"""What somebody who runs the server gets beside all that they get anyway."""


def scope_rows() -> list[tuple[str, str, str]]:
    """Name, verb, and the scope that a token needs there."""
    lines = [line.split("|") for line in SCOPES.strip().splitlines()]
    return [(name.strip(), verb.strip(), scope.strip()) for name, verb, scope in lines]


def rows() -> list[tuple[str, str, str, dict[str, str]]]:
    """Name, arguments, verb, and the expected answer per person."""
    found = []
    for line in TABLE.strip().splitlines():
        if line.strip():
            name, arguments, verb, answers = (part.strip() for part in line.split("|"))
            found.append((name, arguments, verb, dict(zip(PEOPLE, answers.split(), strict=True))))
    return found
